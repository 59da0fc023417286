"""A proxy that hands bytes on, to be killed: ``python -m tests.attack.kills.proxy PORT TARGET``."""

from __future__ import annotations

import asyncio
import contextlib
import sys
from asyncio import StreamReader, StreamWriter


async def serve(port: int, target: int) -> None:
    """Hand on until killed; a connection ends when either side ends it."""

    async def connected(reader: StreamReader, writer: StreamWriter) -> None:
        with contextlib.suppress(OSError):
            back, forth = await asyncio.open_connection("127.0.0.1", target)
            await asyncio.gather(_pump(reader, forth), _pump(back, writer))
        writer.close()

    server = await asyncio.start_server(connected, "127.0.0.1", port, reuse_address=True)
    async with server:
        await server.serve_forever()


async def _pump(reader: StreamReader, writer: StreamWriter) -> None:
    with contextlib.suppress(OSError):
        while data := await reader.read(65536):
            writer.write(data)
            await writer.drain()
    writer.close()


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1]), int(sys.argv[2])))
