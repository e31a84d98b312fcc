"""Pictures made byte by byte, for tests: of any size, cut short, lying about their size."""
import struct
import zlib


def chunk(name, data):
    return struct.pack(">I", len(data)) + name + data + struct.pack(
        ">I", zlib.crc32(name + data) & 0xFFFFFFFF)


def png(width, height, rows=None, said=None):
    """Grey; `rows` of it are there (all, if not given), and the head says `said` for its size."""
    packer = zlib.compressobj(9)
    line = b"\0" + b"\xb0" * width
    body = b"".join(packer.compress(line) for _ in range(height if rows is None else rows))
    body += packer.flush()
    head = struct.pack(">IIBBBBB", *(said or (width, height)), 8, 0, 0, 0, 0)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body)
            + chunk(b"IEND", b""))


def segment(marker, data):
    return bytes([0xFF, marker]) + struct.pack(">H", len(data) + 2) + data


def jpeg(width, height, said=None):
    """Grey, baseline (ITU-T T.81): each block is a difference of nothing and an end of block, one
    bit each, so that any number of megapixels is a short file."""
    blocks = -(-width // 8) * -(-height // 8)
    bits = 2 * blocks
    data = b"\0" * (bits // 8)
    if bits % 8:
        data += bytes([0xFF >> bits % 8])
    said = said or (width, height)
    one_code = b"\x01" + b"\0" * 15 + b"\0"
    return (b"\xff\xd8"
            + segment(0xE0, b"JFIF\0\x01\x01\0\0\x01\0\x01\0\0")
            + segment(0xDB, b"\0" + b"\x10" * 64)
            + segment(0xC0, struct.pack(">BHHB", 8, said[1], said[0], 1) + b"\x01\x11\0")
            + segment(0xC4, b"\x00" + one_code) + segment(0xC4, b"\x10" + one_code)
            + segment(0xDA, b"\x01\x01\0\0\x3f\0") + data + b"\xff\xd9")
