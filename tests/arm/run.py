"""Runs a program that was linked with tests/arm/part.c in an emulated Cortex-M3 (PyPI `unicorn`): stdin and stdout are its own.

    python3 tests/arm/run.py PROGRAM.elf <orders >answers
"""
import struct
import sys

from unicorn import UC_ARCH_ARM, UC_HOOK_MEM_WRITE, UC_MODE_MCLASS, UC_MODE_THUMB, Uc
from unicorn.arm_const import UC_CPU_ARM_CORTEX_M3

PART = 0x40000000
MEMORY = 0x200000  # bytes from 0: program, heap and stack

image = open(sys.argv[1], "rb").read()
entry, table = struct.unpack_from("<II", image, 24)
size, count = struct.unpack_from("<HH", image, 42)

part = Uc(UC_ARCH_ARM, UC_MODE_THUMB | UC_MODE_MCLASS)
part.ctl_set_cpu_model(UC_CPU_ARM_CORTEX_M3)
part.mem_map(0, MEMORY)
part.mem_map(PART, 0x1000)
for i in range(count):
    kind, offset, at, _, in_file = struct.unpack_from("<IIIII", image, table + i * size)
    if kind == 1:
        part.mem_write(at, image[offset : offset + in_file])

ended = []


def order(part, _access, address, _size, value, _data):
    if address != PART + 8:
        return
    at, number = struct.unpack("<II", part.mem_read(PART, 8))
    if value == 1:
        read = sys.stdin.buffer.read(number)
        part.mem_write(at, read)
        number = len(read)
    elif value == 2:
        sys.stdout.buffer.write(bytes(part.mem_read(at, number)))
    else:
        ended.append(number)
        part.emu_stop()
    part.mem_write(PART + 12, struct.pack("<I", number))


part.hook_add(UC_HOOK_MEM_WRITE, order, begin=PART, end=PART + 15)
part.emu_start(entry | 1, MEMORY)
sys.stdout.buffer.flush()
sys.exit(ended[0] if ended else "the part stopped by itself")
