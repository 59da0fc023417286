"""Commands that show what the service is: settings, contract, examples, a demonstration."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from service.settings import Settings, amiss, described

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the commands."""
    told = commands.add_parser(
        "settings", help="print every setting, its value and where that is from"
    )
    told.set_defaults(run=show_settings)
    examples = commands.add_parser("examples", help="write example requests of every fault")
    examples.add_argument("--out", metavar="FOLDER", type=Path, default=Path("examples"))
    examples.set_defaults(run=write_examples)
    openapi = commands.add_parser("openapi", help="print the OpenAPI contract")
    openapi.add_argument(
        "--write",
        metavar="FOLDER",
        type=Path,
        help="write it there instead, with an answer for every request in FOLDER/examples",
    )
    openapi.set_defaults(run=show_contract)
    demo = commands.add_parser("demo", help="analyse a made-up swing and draw it")
    demo.add_argument("--out", metavar="FOLDER", type=Path, default=Path("out"))
    demo.set_defaults(run=run_demo)


def show_settings(options: argparse.Namespace, settings: Settings) -> None:
    """Print every setting, and what is most likely set otherwise than meant."""
    print(described(settings), end="")
    for wrong in amiss(settings, os.environ):
        print(wrong, file=sys.stderr)


def write_examples(options: argparse.Namespace, settings: Settings) -> None:
    """Write an example request of every fault, and what is expected of it."""
    from service.api.schemas.examples import to_expected
    from service.examples import EXAMPLES

    out: Path = options.out
    out.mkdir(parents=True, exist_ok=True)
    for example in EXAMPLES.values():
        path = out / f"{example.name}-request.json"
        path.write_bytes(example.request())
        expected = to_expected(example).model_dump_json(indent=2)
        (out / f"{example.name}-expected.json").write_text(f"{expected}\n", encoding="utf-8")
        print(path)


def show_contract(options: argparse.Namespace, settings: Settings) -> None:
    """Print the contract, or write it with an answer for every example."""
    from service.contract import contract_text, write_contract
    from service.use_cases.analyse import Analyser

    if options.write is None:
        print(contract_text(), end="")
        return
    for path in write_contract(options.write, Analyser.of(settings)):
        print(path)


def run_demo(options: argparse.Namespace, settings: Settings) -> None:
    """Analyse made-up swings and draw them."""
    from service.demo import run
    from service.use_cases.analyse import Analyser

    run(options.out, Analyser.of(settings))
