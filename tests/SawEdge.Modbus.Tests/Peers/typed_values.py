"""Typed values in a pymodbus server, for tests of another implementation's client.

Usage: typed_values.py PORT         (Modbus TCP)
       typed_values.py PORT rtu     (RTU over TCP)
       typed_values.py LINE         (RTU on a serial line, a name that begins with /)

The values and their places are those of typed_values.c. Words and bytes are put together by pymodbus's own payload
builder where it has the order, which makes it an independent opinion on what an order means.
"""
import struct
import sys

from pymodbus.constants import Endian
from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.payload import BinaryPayloadBuilder
from pymodbus.server import StartSerialServer, StartTcpServer
from pymodbus.transaction import ModbusRtuFramer, ModbusSocketFramer

# Order: (order of bytes in a word, order of words), A being the most significant byte.
ORDERS = [("abcd", Endian.Big, Endian.Big), ("cdab", Endian.Big, Endian.Little),
          ("badc", Endian.Little, Endian.Big), ("dcba", Endian.Little, Endian.Little)]
HOLDING = [0] * 400


def put(address, words):
    HOLDING[address:address + len(words)] = words


def typed(address, step, add, value):
    """One value in the four orders, one after the other."""
    for i, (_, byte_order, word_order) in enumerate(ORDERS):
        builder = BinaryPayloadBuilder(byteorder=byte_order, wordorder=word_order)
        getattr(builder, add)(value)
        put(address + i * step, [struct.unpack(">H", word)[0] for word in builder.build()])


def text(address, registers, value, swapped):
    data = value.encode("ascii").ljust(registers * 2, b"\0")
    put(address, list(struct.unpack(("<" if swapped else ">") + "H" * registers, data)))


put(100, [54321, 0x10000 - 12345])
typed(110, 2, "add_32bit_uint", 3735928559)
typed(120, 2, "add_32bit_int", -123456789)
typed(130, 2, "add_32bit_float", 123.456)
typed(140, 4, "add_64bit_float", -98765.4321)
typed(160, 4, "add_64bit_uint", 1234567890123456)
typed(180, 4, "add_64bit_int", -1234567890123456)
text(200, 16, "BAR-4711 / S235JR", False)
text(220, 16, "BAR-4711 / S235JR", True)

def unit(add):
    return ModbusSlaveContext(
        co=ModbusSequentialDataBlock(0, [i % 3 == 0 for i in range(2000)]),
        di=ModbusSequentialDataBlock(0, [i * i % 7 < 3 for i in range(2000)]),
        hr=ModbusSequentialDataBlock(0, HOLDING),
        ir=ModbusSequentialDataBlock(0, [(i * 7 + 3 + add) & 0xFFFF for i in range(200)]),
        zero_mode=True)


context = ModbusServerContext(slaves={1: unit(0), 3: unit(1000)}, single=False)
if sys.argv[1].startswith("/"):
    StartSerialServer(context=context, framer=ModbusRtuFramer, port=sys.argv[1], baudrate=19200, parity="N", stopbits=2)
else:
    framer = ModbusRtuFramer if sys.argv[2:] == ["rtu"] else ModbusSocketFramer
    StartTcpServer(context=context, framer=framer, address=("127.0.0.1", int(sys.argv[1])))
