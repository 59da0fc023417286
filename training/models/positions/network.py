"""The network that places P1 to P10, and how it is fitted.

Convolutions along the strip of :mod:`service.analysis.events.positions.strip` at four fineness
levels, each coarser one joined again with the finer (O. Ronneberger, P. Fischer and T. Brox,
U-Net, 2015, doi:10.1007/978-3-319-24574-4_28). It tells, for every position, the chance of
each moment; the steps (Adam with decoupled weight decay, one cycle of the learning rate) are
those of I. Loshchilov and F. Hutter, 2019, arXiv:1711.05101. Convolutions instead step by as much
in every direction that their slopes agree on (Muon, by K. Jordan and others, as in J. Liu and
others, 2025, arXiv:2502.16982; numbers from memory), which learns more from as many examples.

What is served is distilled from teachers of its own kind: the mean of some networks that started
from other weights is nearer to the truth than each of them, and their chances tell more of a
position than its one true moment (G. Hinton, O. Vinyals and J. Dean, Distilling the knowledge in a
neural network, 2015, arXiv:1503.02531).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final

import jax
import jax.numpy as jnp
import numpy as np
from numpy.typing import NDArray

from service.analysis.events.positions.network import LABEL
from service.analysis.events.positions.strip import N_ABOUT, N_SIGNALS
from service.analysis.events.positions.strip_clock import N_MOMENTS, N_SAMPLES
from service.analysis.types import BoolArray, FloatArray

N_POSITIONS: Final[int] = 10
WIDTHS: Final[tuple[int, ...]] = (32, 48, 64, 64)
"""Channels of each level, from half of the samples to a sixteenth of them."""
BLOCKS: Final[int] = 2
"""Blocks of each level on the way down; one on the way up."""
KERNEL: Final[int] = 5
MOMENTS_AT_ONCE: Final[int] = N_MOMENTS // (N_SAMPLES // 2)
"""Moments told from each place of the finest level."""
_BATCH: Final[int] = 128
_RATE: Final[float] = 2e-3
_TURNING: Final[float] = 10.0
"""Times that rate by which convolutions go."""
_DECAY: Final[float] = 0.02
_BETAS: Final[tuple[float, float]] = (0.9, 0.98)
_WARM: Final[float] = 0.15
"""Share of the steps in which the learning rate rises."""
_DROPPED: Final[float] = 0.1
"""Share of the stem's channels left out at each step, that no one signal is relied on."""
_TEACHERS: Final[int] = 2
"""Networks that the one which is kept is distilled from."""
_SOFT: Final[float] = 0.7
"""Weight of their chances in what it is fitted to; the rest is the truth's."""
_STEPS_AT_ONCE: Final[int] = 50
_NEWTON_SCHULZ: Final[tuple[float, float, float]] = (3.4445, -4.7750, 2.0315)
_BY_ADAM: Final[tuple[str, ...]] = ("about", "told")
"""What is no convolution inside, beside the biases."""

Array = jax.Array
Weights = dict[str, Array]
State = tuple[Weights, Weights, Weights, Array]
"""Weights, the first and second moments of their slopes, and how many steps were made."""
Float32 = NDArray[np.float32]
RowNumbers = NDArray[np.intp]
Progress = Callable[[range], Iterable[int]]
"""Shows how far steps have come: gives them back as they are asked for."""


@dataclass(frozen=True)
class Examples:
    """Strips and where the positions are.

    ``signals`` of shape (n, N_SAMPLES, N_SIGNALS) in half precision, ``about`` (n, N_ABOUT),
    ``clock`` (n, N_MOMENTS) in seconds from the strip's first sample, ``truth`` (n, 10) likewise,
    NaN where not reached, ``allowed`` (n,) the error that is allowed in seconds.
    """

    signals: NDArray[np.float16]
    about: Float32
    clock: Float32
    truth: Float32
    allowed: Float32

    def parts(self) -> tuple[Array, ...]:
        """All of them where the network is fitted."""
        return tuple(jnp.asarray(getattr(self, name)) for name in self.__dataclass_fields__)

    def rows(self, chosen: RowNumbers | BoolArray) -> Examples:
        """Some of them."""
        return Examples(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))


def layers() -> Iterator[tuple[str, tuple[int, int, int]]]:
    """Name and shape (kernel, from, to) of every convolution."""
    yield "stem", (KERNEL, N_SIGNALS, WIDTHS[0])
    yield "about", (1, N_ABOUT, WIDTHS[0])
    for level, width in enumerate(WIDTHS):
        if level:
            yield f"down{level}", (3, WIDTHS[level - 1], width)
            yield f"up{level}", (1, width, 2 * WIDTHS[level - 1])
        names = [f"block{level}.{k}" for k in range(BLOCKS)]
        names += [f"joined{level}"] if level < len(WIDTHS) - 1 else []
        for name in names:
            yield name + ".wide", (KERNEL, width, width)
            yield name + ".mix", (1, width, width)
    yield "told", (1, WIDTHS[0], MOMENTS_AT_ONCE * N_POSITIONS)


def first_weights(seed: int) -> Weights:
    """Weights to start from."""
    rng = np.random.default_rng(seed)
    weights: Weights = {}
    for name, (kernel, come, go) in layers():
        # Each block first adds little to what passes it, so that deep ones learn as shallow ones.
        size = 0.25 if name.endswith(".mix") else 0.1 if name == "told" else 1.0
        scale = size * np.sqrt(2.0 / (kernel * come))
        weights[name] = jnp.asarray(scale * rng.standard_normal((kernel, come, go)), jnp.float32)
        weights[name + ".bias"] = jnp.zeros(go, jnp.float32)
    return weights


def logits(weights: Weights, signals: Array, about: Array, dropped: Array | None = None) -> Array:
    """Logarithms of chances, up to a constant, shape (n, N_MOMENTS, 10)."""
    x = _conv(weights, "stem", signals, 2)
    x += (about @ weights["about"][0] + weights["about.bias"])[:, None]
    if dropped is not None:
        x = x * dropped
    passed: list[Array] = []
    for level in range(len(WIDTHS)):
        if level:
            passed.append(x)
            x = _conv(weights, f"down{level}", jax.nn.relu(x), 2)
        for k in range(BLOCKS):
            x = _block(weights, f"block{level}.{k}", x)
    for level in reversed(range(1, len(WIDTHS))):
        x = _unfolded(_conv(weights, f"up{level}", jax.nn.relu(x))) + passed.pop()
        x = _block(weights, f"joined{level - 1}", x)
    return _unfolded(_conv(weights, "told", jax.nn.relu(x)), MOMENTS_AT_ONCE)


def _block(weights: Weights, name: str, x: Array) -> Array:
    inner = jax.nn.relu(_conv(weights, name + ".wide", jax.nn.relu(x)))
    return x + _conv(weights, name + ".mix", inner)


def _conv(weights: Weights, name: str, x: Array, stride: int = 1) -> Array:
    """A convolution along the samples: neighbours side by side times one matrix."""
    kernel, come, go = weights[name].shape
    if kernel > 1:
        n, half = x.shape[1], kernel // 2
        padded = jnp.pad(x, ((0, 0), (half, half), (0, 0)))
        x = jnp.concatenate([padded[:, k : k + n : stride] for k in range(kernel)], axis=-1)
    return x @ weights[name].reshape(kernel * come, go) + weights[name + ".bias"]


def _unfolded(x: Array, times: int = 2) -> Array:
    """So many times as many samples of so many times fewer channels."""
    return x.reshape(x.shape[0], times * x.shape[1], x.shape[2] // times)


def _loss(weights: Weights, some: tuple[Array, ...], dropped: Array) -> Array:
    signals, about, clock, truth, allowed, soft_targets, share = some
    told = jax.nn.log_softmax(logits(weights, signals.astype(jnp.float32), about, dropped), axis=1)
    there = jnp.isfinite(truth)
    off = clock[:, :, None] - jnp.where(there, truth, 0.0)[:, None]
    wanted = jnp.exp(-0.5 * (off / (LABEL * allowed[:, None, None])) ** 2)
    wanted *= jnp.asarray(jnp.gradient(clock, axis=1))[:, :, None]
    total = wanted.sum(axis=1)
    there &= total > 1e-6
    wanted /= jnp.maximum(total, 1e-9)[:, None]
    wanted = (1.0 - share) * wanted + share * soft_targets.astype(jnp.float32)
    surprise = -(wanted * told).sum(axis=1)
    return jnp.where(there, surprise, 0.0).sum() / there.sum()


@partial(jax.jit, donate_argnums=0)
def _steps(
    state: State,
    data: tuple[Array, ...],
    share: np.float32,
    chosen: Array,
    rates: Array,
    key: Array,
) -> tuple[State, Array]:
    """A step for each batch; ``share``, 0 to 1, is how much of what is wanted teachers tell."""

    def step(state: State, now: tuple[Array, Array, Array]) -> tuple[State, Array]:
        weights, first, second, count = state
        rows, rate, key = now
        some = (*(each[rows] for each in data), share)
        kept = jax.random.bernoulli(key, 1.0 - _DROPPED, (len(rows), 1, WIDTHS[0]))
        loss, slope = jax.value_and_grad(_loss)(weights, some, kept / (1.0 - _DROPPED))
        size = jnp.sqrt(sum((g * g).sum() for g in jax.tree.leaves(slope)))
        slope = jax.tree.map(lambda g: g * jnp.minimum(1.0, 1.0 / size), slope)
        a, b = _BETAS
        count += 1
        first = jax.tree.map(lambda m, g: a * m + (1 - a) * g, first, slope)
        second = jax.tree.map(lambda v, g: b * v + (1 - b) * g * g, second, slope)

        def moved(name: str) -> Array:
            w, m, v = weights[name], first[name], second[name]
            if w.ndim > 1 and name not in _BY_ADAM:
                way = _levelled(a * m + (1 - a) * slope[name])
                return w - _TURNING * rate * (way + _DECAY * w)
            way = jnp.asarray(m / (1 - a**count)) / (jnp.sqrt(v / (1 - b**count)) + 1e-8)
            return w - rate * (way + (_DECAY * w if w.ndim > 1 else 0.0))

        return ({name: moved(name) for name in weights}, first, second, count), loss

    keys = jax.random.split(key, len(rates))
    return jax.lax.scan(step, state, (chosen, rates, keys))


def _levelled(way: Array) -> Array:
    """A convolution's step, (kernel, from, to), with all its singular values brought near to one by
    five rounds of a fifth-order Newton-Schulz iteration, which needs no decomposition."""
    come, go = way.shape[0] * way.shape[1], way.shape[2]
    x = way.reshape(come, go) / (jnp.linalg.norm(way) + 1e-7)
    x = x.T if come > go else x
    a, b, c = _NEWTON_SCHULZ
    for _ in range(5):
        square = x @ x.T
        x = a * x + (b * square + c * square @ square) @ x
    x = x.T if come > go else x
    return jnp.asarray(x.reshape(way.shape) * max(1.0, go / come) ** 0.5)


def fit_distilled(
    data: Examples,
    rounds: int,
    rows: RowNumbers,
    progress: Progress = lambda steps: steps,
) -> dict[str, FloatArray]:
    """Weights fitted to the truth of some examples, each seen ``rounds`` times, and to the mean
    chances of teachers that were fitted to the same ones.

    Parameters
    ----------
    rows : array of shape (n,)
        Which of the examples. Fits to parts of the same ones are compiled once.
    """
    mean = np.zeros((len(data.truth), N_MOMENTS, N_POSITIONS), np.float16)
    for seed in range(1, _TEACHERS + 1):
        teacher = _fit(data, rounds, rows, progress, seed)
        for some, told in _batches_of_chances(teacher, data, rows):
            mean[some] += (told / _TEACHERS).astype(np.float16)
    return _fit(data, rounds, rows, progress, _TEACHERS + 1, mean)


def _fit(
    data: Examples,
    rounds: int,
    rows: RowNumbers,
    progress: Progress,
    seed: int,
    soft_targets: NDArray[np.float16] | None = None,
) -> dict[str, FloatArray]:
    """Weights fitted to the truth, and to what teachers tell where there are some.

    ``soft_targets`` of shape (n_examples, N_MOMENTS, 10) are their chances. Without them zeros take
    their place with no share, so that teachers and who is taught run the same compiled steps.
    """
    rng = np.random.default_rng(seed)
    batch = min(_BATCH, len(rows))
    total = max(rounds * len(rows) // batch, 1)
    total -= total % min(_STEPS_AT_ONCE, total)
    order = np.concatenate([rng.permutation(rows) for _ in range(rounds + 1)])
    chosen = order[: total * batch].reshape(total, batch)
    rates = _cycle(total)
    weights = first_weights(seed)
    zeros = jax.tree.map(jnp.zeros_like, weights)
    state = (weights, zeros, jax.tree.map(jnp.zeros_like, weights), jnp.zeros((), jnp.float32))
    share = np.float32(0.0 if soft_targets is None else _SOFT)
    if soft_targets is None:
        soft_targets = np.zeros((len(data.truth), N_MOMENTS, N_POSITIONS), np.float16)
    parts = (*data.parts(), jnp.asarray(soft_targets))
    for k in progress(range(0, total, _STEPS_AT_ONCE)):
        part = slice(k, k + _STEPS_AT_ONCE)
        key = jax.random.key(int(rng.integers(2**31)))
        these, their_rates = jnp.asarray(chosen[part]), jnp.asarray(rates[part])
        state, _ = _steps(state, parts, share, these, their_rates, key)
    return {name: np.asarray(value) for name, value in state[0].items()}


def _cycle(total: int) -> Float32:
    """Learning rates: up in a first share of the steps, then down to nothing by half a cosine."""
    done = (np.arange(total) + 1) / total
    down = 0.5 * (1.0 + np.cos(np.pi * np.clip((done - _WARM) / (1.0 - _WARM), 0.0, 1.0)))
    return np.asarray(_RATE * np.minimum(done / _WARM, down), dtype=np.float32)


def chances(weights: Mapping[str, FloatArray], data: Examples) -> FloatArray:
    """Chances of every moment, shape (n, 10, N_MOMENTS)."""
    told = [each for _, each in _batches_of_chances(weights, data, np.arange(len(data.truth)))]
    empty = np.zeros((0, N_MOMENTS, N_POSITIONS))
    return np.moveaxis(np.concatenate([empty, *told]), 1, 2)


def _batches_of_chances(
    weights: Mapping[str, FloatArray], data: Examples, rows: RowNumbers
) -> Iterator[tuple[RowNumbers, Float32]]:
    """Some of the rows after the other, and the chances of their moments, (n, N_MOMENTS, 10)."""
    on_device = {name: jnp.asarray(value) for name, value in weights.items()}
    for k in range(0, len(rows), _BATCH):
        some = rows[k : k + _BATCH]
        yield some, np.asarray(_told(on_device, data.signals[some], data.about[some]))


@jax.jit
def _told(weights: Weights, signals: Array, about: Array) -> Array:
    return jax.nn.softmax(logits(weights, signals.astype(jnp.float32), about), axis=1)
