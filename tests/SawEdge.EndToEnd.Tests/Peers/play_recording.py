"""Saw controllers played by pymodbus: the rows of a recording, written into registers at their times.

Usage: play_recording.py PORT RECORDING        (Modbus TCP)
       play_recording.py rtu:PORT RECORDING    (RTU over TCP)
       play_recording.py LINE RECORDING        (RTU on a serial line, a name that begins with /)

The recording's first saw is unit 5, its second unit 6 and so on. Time begins with the first request to any of them. The registers are those
of play_recording.c:

    holding    0        head position   int16    0.1 mm
    holding   10-11     motor load      float32  kW, least significant word first
    holding   20-27     job             ascii
    holding   28-35     blade           ascii
    input    100-101    part count      uint32
    input    102        blade speed     uint16   0.1 m/min
    input    103        mode            uint16   0 manual, 2 automatic
    input    104-111    bar             ascii, the characters of each register swapped
    input    120        fault code      int16
    discrete   7        cycle active
    discrete   8        blade running
    coil       3        cutting

Prints "serving" once it does, "playing from MS", the wall clock in milliseconds since 1970 that belongs to the first row, and at the end
"played, latest row N ms late".
"""
import asyncio
import csv
import struct
import sys
import time
from datetime import datetime

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartAsyncSerialServer, StartAsyncTcpServer
from pymodbus.transaction import ModbusRtuFramer, ModbusSocketFramer

HOLDING, INPUT, DISCRETE, COIL = 3, 4, 2, 1


class Controller(ModbusSlaveContext):
    """Registers that notice when somebody first asks for them."""

    def __init__(self, asked):
        super().__init__(
            co=ModbusSequentialDataBlock(0, [False] * 16), di=ModbusSequentialDataBlock(0, [False] * 16),
            hr=ModbusSequentialDataBlock(0, [0] * 200), ir=ModbusSequentialDataBlock(0, [0] * 200), zero_mode=True)
        self.asked = asked

    def getValues(self, fc_as_hex, address, count=1):
        self.asked.set()
        return super().getValues(fc_as_hex, address, count)

    def put(self, table, address, data):
        self.setValues(table, address, list(struct.unpack(f">{len(data) // 2}H", data)))

    def text(self, table, address, value, swapped):
        data = value.encode("ascii").ljust(16, b"\0")
        self.setValues(table, address, list(struct.unpack(("<" if swapped else ">") + "8H", data)))

    def load(self, row):
        """Writes one row; what the row does not hold stays."""
        if row["head_position"]:
            self.put(HOLDING, 0, struct.pack(">h", round(float(row["head_position"]) * 10)))
        if row["motor_load"]:
            high, low = struct.unpack(">2H", struct.pack(">f", float(row["motor_load"])))
            self.setValues(HOLDING, 10, [low, high])
        self.text(HOLDING, 20, row["job"], False)
        self.text(HOLDING, 28, row["blade_id"], False)
        self.put(INPUT, 100, struct.pack(">I", int(row["part_count"])))
        self.put(INPUT, 102, struct.pack(">H", round(float(row["blade_speed"]) * 10)))
        self.put(INPUT, 103, struct.pack(">H", 2 if row["mode"] == "automatic" else 0))
        self.text(INPUT, 104, row["bar_id"], True)
        self.put(INPUT, 120, struct.pack(">h", int(row["fault_code"])))
        self.setValues(DISCRETE, 7, [row["cycle_active"] == "true", row["blade_running"] == "true"])
        self.setValues(COIL, 3, [row["cutting"] == "true"])


async def play(asked, controllers, rows):
    await asked.wait()
    loop = asyncio.get_running_loop()
    start = loop.time()
    print(f"playing from {time.time() * 1000:.0f}", flush=True)
    latest = 0.0
    for offset, row in rows:
        await asyncio.sleep(start + offset - loop.time())
        controllers[row["saw"]].load(row)
        latest = max(latest, loop.time() - start - offset)
    print(f"played, latest row {latest * 1000:.0f} ms late", flush=True)


async def serve(where, context):
    if where.startswith("/"):
        server = await StartAsyncSerialServer(context=context, framer=ModbusRtuFramer, port=where, baudrate=115200, parity="N", stopbits=2, ignore_missing_slaves=True, defer_start=True)
        await server.start()
        print("serving", flush=True)
        await server.serve_forever()
    else:
        framer = ModbusRtuFramer if where.startswith("rtu:") else ModbusSocketFramer
        await StartAsyncTcpServer(context=context, framer=framer, address=("127.0.0.1", int(where.removeprefix("rtu:"))))


async def main(where, recording):
    with open(recording, newline="", encoding="utf-8") as file:
        rows = [(datetime.fromisoformat(row["time"].replace("Z", "+00:00")).timestamp(), row) for row in csv.DictReader(file)]
    first = rows[0][0]
    asked = asyncio.Event()
    controllers = {}
    for _, row in rows:
        if row["saw"] not in controllers:
            controllers[row["saw"]] = Controller(asked)
            controllers[row["saw"]].load(row)
    playing = asyncio.create_task(play(asked, controllers, [(at - first, row) for at, row in rows]))
    await serve(where, ModbusServerContext(slaves=dict(enumerate(controllers.values(), 5)), single=False))
    await playing


asyncio.run(main(sys.argv[1], sys.argv[2]))
