"""Whoever asked is told that a batch is over: one signed POST, to an address that was checked.

Signed as the Standard Webhooks specification (version 1.0.0, part "Signature scheme") has it, from
memory: HMAC-SHA256 over ``ID.TIMESTAMP.BODY``, in base64 after ``v1,``. A name is resolved once and
the address that was checked is the one connected to, so that a name can't change what it means in
between; redirects are not followed and proxies not asked.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import hmac
import json
import logging
import secrets
import socket
import ssl
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from typing import Final

import httpx

from service.records.batches.entities import Batch, CallbackTry

SECRET_PREFIX: Final[str] = "whsec_"
_SECRET_BYTES: Final[int] = 32
_SECONDS: Final[float] = 10.0
_CARRIES_IPV4: Final = tuple(
    ip_network(net)
    for net in (
        "::/96",
        "::ffff:0:0/96",
        "64:ff9b::/96",
        "64:ff9b:1::/48",
        "2002::/16",
        "2001::/32",
    )
)
"""Addresses that stand for one of IPv4 (RFC 4291, 6052, 8215, 3056, 4380): none is called."""

_log = logging.getLogger(__name__)


class Forbidden(Exception):
    """The address is none to which the service may be sent by a caller."""


@dataclass(frozen=True)
class Sender:
    """How callbacks are sent.

    Attributes
    ----------
    private
        Whether addresses that the internet can't reach may be called.
    seconds
        How long one call may take in all, however slowly something comes.
    """

    private: bool = False
    seconds: float = _SECONDS


def new_secret() -> str:
    """A secret of chance."""
    return SECRET_PREFIX + base64.b64encode(secrets.token_bytes(_SECRET_BYTES)).decode()


def key_of(secret: str) -> bytes:
    """The bytes that a secret stands for.

    Raises
    ------
    ValueError
        When it is none.
    """
    if not secret.startswith(SECRET_PREFIX):
        raise ValueError(f"should begin with {SECRET_PREFIX}")
    return base64.b64decode(secret.removeprefix(SECRET_PREFIX), validate=True)


def signature(secret: str, message_id: str, timestamp: int, body: bytes) -> str:
    """What the receiver compares.

    >>> signature("whsec_MDEyMzQ1Njc4OWFiY2RlZg==", "batch", 1, b"{}")[:9]
    'v1,XGXqfh'
    """
    text = f"{message_id}.{timestamp}.".encode() + body
    digest = hmac.new(key_of(secret), text, hashlib.sha256).digest()
    return f"v1,{base64.b64encode(digest).decode()}"


def tell(batch: Batch, sender: Sender) -> CallbackTry:
    """Tell of one batch, which succeeds where a status from 200 to 299 is answered."""
    assert batch.callback is not None
    body = json.dumps(
        {
            "type": f"batch.{batch.state}",
            "batch_id": batch.id,
            "state": batch.state,
            "total": batch.total,
            "done": batch.done,
            "failed": batch.failed,
        }
    ).encode()
    now = int(time.time())
    headers = {
        "Content-Type": "application/json",
        "User-Agent": "swing-fault-service",
        "webhook-id": batch.id,
        "webhook-timestamp": str(now),
        "webhook-signature": signature(batch.callback.secret, batch.id, now, body),
    }
    status, problem = None, None
    try:
        status = asyncio.run(_post(batch.callback.url, body, headers, sender))
        problem = _problem_of_status(status)
    except (httpx.HTTPError, httpx.InvalidURL, Forbidden, OSError, ValueError) as error:
        # The last of a name that is none, and the one before of a call that took too long.
        problem = _problem_of(error, sender)
    if problem:
        _log.warning("the callback of batch %s failed: %s", batch.id, problem)
    return CallbackTry(datetime.now(UTC), status, problem)


def _problem_of_status(status: int) -> str | None:
    if 200 <= status < 300:
        return None
    followed = " Redirects are not followed." if 300 <= status < 400 else ""
    return f"It was answered with {status}, not with a status from 200 to 299.{followed}"


def _problem_of(error: Exception, sender: Sender) -> str:
    """Why no answer came, in words for whoever gave the address."""
    match error:
        case Forbidden():
            return (
                "The name has an address that is not of the public internet; whoever runs the "
                "service may set SWING_WEBHOOK_PRIVATE."
            )
        case TimeoutError() | httpx.TimeoutException():
            return f"No answer came within {sender.seconds:g} seconds."
        case socket.gaierror() | UnicodeError() | httpx.InvalidURL():
            return "The name has no address."
        case httpx.ConnectError() if isinstance(_cause(error), ssl.SSLError):
            return "The connection was not secure: the certificate or its name is not accepted."
        case httpx.ConnectError() | OSError():
            return "Nobody takes a connection there."
        case httpx.HTTPError():
            return "The connection ended before an answer came, or the answer is no HTTP."
        case _:
            return "The address can't be called."


def _cause(error: BaseException) -> BaseException:
    """What an error came of first."""
    while before := error.__cause__ or error.__context__:
        error = before
    return error


def is_never_called(url: str, private: bool) -> bool:
    """Whether a URL itself names an address that :func:`checked_address` forbids.

    A name is looked up only when it is called, as it may mean something else by then.

    >>> is_never_called("http://10.1.2.3/done", private=False)
    True
    """
    host = httpx.URL(url).host
    if private:
        return False
    try:
        return not _public(ip_address(host))
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")


def checked_address(host: str, port: int, private: bool) -> str:
    """The address of a host, if all it has may be called.

    Raises
    ------
    Forbidden
        When one of them is private, of this machine or of this network, and that is not allowed.
    OSError
        When the name has none.
    """
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    addresses = list(dict.fromkeys(str(each[4][0]).partition("%")[0] for each in found))
    for address in addresses:
        if not private and not _public(ip_address(address)):
            raise Forbidden("the address is not of the public internet")
    return addresses[0]


def _public(address: IPv4Address | IPv6Address) -> bool:
    if any(address in net for net in _CARRIES_IPV4 if net.version == address.version):
        return False
    return address.is_global and not address.is_multicast and not address.is_reserved


async def _post(url: str, body: bytes, headers: dict[str, str], sender: Sender) -> int:
    named = httpx.URL(url)
    port = named.port or (443 if named.scheme == "https" else 80)
    address = await asyncio.to_thread(checked_address, named.host, port, sender.private)
    async with (
        asyncio.timeout(sender.seconds),
        httpx.AsyncClient(
            trust_env=False, follow_redirects=False, timeout=sender.seconds
        ) as client,
        client.stream(
            "POST",
            named.copy_with(host=address),
            content=body,
            headers={**headers, "Host": named.netloc.decode()},
            extensions={"sni_hostname": named.host},
        ) as answer,
    ):
        return answer.status_code  # what it says beside that is not read
