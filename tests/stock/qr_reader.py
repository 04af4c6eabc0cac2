"""Reads a QR code back to its text, from its modules or from pixels, by ISO/IEC 18004 and nothing of ours.

Versions 1 to 6 at level M in byte mode, undamaged: a wrong module fails the checks here instead of being repaired.
Positions of alignment patterns (annex E) and block sizes (table 9) are written down from memory of the standard;
a wrong one cannot read any code.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

Modules = list[list[bool]]

_CENTRES = {1: (), 2: (6, 18), 3: (6, 22), 4: (6, 26), 5: (6, 30), 6: (6, 34)}
#: Version: blocks, codewords in a block, of which data.
_BLOCKS_M = {1: (1, 26, 16), 2: (1, 44, 28), 3: (1, 70, 44), 4: (2, 50, 32), 5: (2, 67, 43), 6: (4, 43, 27)}
_MASKS = (
    lambda i, j: (i + j) % 2,
    lambda i, j: i % 2,
    lambda i, j: j % 3,
    lambda i, j: (i + j) % 3,
    lambda i, j: (i // 2 + j // 3) % 2,
    lambda i, j: i * j % 2 + i * j % 3,
    lambda i, j: (i * j % 2 + i * j % 3) % 2,
    lambda i, j: ((i + j) % 2 + i * j % 3) % 2,
)


class Unreadable(Exception):
    pass


def read_modules(modules: Modules) -> tuple[str, str]:
    """The text and the level, "M" and so on. Raises Unreadable."""
    size = len(modules)
    version = (size - 17) // 4
    if size != 17 + 4 * version or version not in _CENTRES:
        raise Unreadable(f"{size} modules across")
    level, mask = _format(modules)
    if level != "M":
        raise Unreadable(f"level {level}")
    taken = _function_modules(size, version)
    bits = [modules[i][j] != (_MASKS[mask](i, j) == 0) for i, j in _walk(size) if (i, j) not in taken]
    words = [sum(bit << (7 - at) for at, bit in enumerate(bits[k : k + 8])) for k in range(0, len(bits) - 7, 8)]
    return _text(_data(words, version)), level


def _format(modules: Modules) -> tuple[str, int]:
    places = [(8, j) for j in (0, 1, 2, 3, 4, 5, 7, 8)] + [(i, 8) for i in (7, 5, 4, 3, 2, 1, 0)]
    value = 0
    for i, j in places:
        value = value << 1 | modules[i][j]
    value ^= 0b101010000010010
    left = value
    for shift in range(4, -1, -1):
        if left >> (shift + 10) & 1:
            left ^= 0b10100110111 << shift
    if left:
        raise Unreadable("the format information is no word of its BCH code")
    return "MLHQ"[value >> 13], value >> 10 & 7


def _function_modules(size: int, version: int) -> set[tuple[int, int]]:
    taken = {(6, k) for k in range(size)} | {(k, 6) for k in range(size)}
    taken |= {(i, j) for i in range(9) for j in range(9)}
    taken |= {(i, j) for i in range(9) for j in range(size - 8, size)}
    taken |= {(i, j) for i in range(size - 8, size) for j in range(9)}
    corners = {(6, 6), (6, size - 7), (size - 7, 6)}
    for i in _CENTRES[version]:
        for j in _CENTRES[version]:
            if (i, j) not in corners:
                taken |= {(i + di, j + dj) for di in range(-2, 3) for dj in range(-2, 3)}
    return taken


def _walk(size: int) -> Iterator[tuple[int, int]]:
    """Two columns at a time from the right, up and down in turn; the timing column is left out."""
    for turn, right in enumerate([*range(size - 1, 7, -2), 5, 3, 1]):
        for i in range(size - 1, -1, -1) if turn % 2 == 0 else range(size):
            yield i, right
            yield i, right - 1


def _data(words: list[int], version: int) -> list[int]:
    blocks, total, data = _BLOCKS_M[version]
    first, rest = words[: blocks * data], words[blocks * data : blocks * total]
    out: list[int] = []
    for block in range(blocks):
        word = first[block::blocks] + rest[block::blocks]
        if any(_syndrome(word, power) for power in range(total - data)):
            raise Unreadable(f"block {block} is no word of its Reed-Solomon code")
        out += word[:data]
    return out


def _times(a: int, b: int) -> int:
    """In the field of 256 elements by x^8 + x^4 + x^3 + x^2 + 1."""
    product = 0
    while b:
        product ^= a if b & 1 else 0
        a <<= 1
        a ^= 0x11D if a & 0x100 else 0
        b >>= 1
    return product


def _syndrome(word: list[int], power: int) -> int:
    root = 1
    for _ in range(power):
        root = _times(root, 2)
    value = 0
    for codeword in word:
        value = _times(value, root) ^ codeword
    return value


def _text(data: list[int]) -> str:
    bits = "".join(f"{codeword:08b}" for codeword in data)
    if bits[:4] != "0100":
        raise Unreadable(f"mode {bits[:4]}")
    count = int(bits[4:12], 2)
    return bytes(int(bits[12 + 8 * k : 20 + 8 * k], 2) for k in range(count)).decode()


def modules_of_pixels(image) -> tuple[Modules, float]:
    """Modules out of a picture of one code on white (a Pillow image), and the narrowest quiet zone in modules."""
    grey = image.convert("L")
    width, height = grey.size
    dark = [[grey.getpixel((x, y)) < 128 for x in range(width)] for y in range(height)]
    rows = [y for y in range(height) if any(dark[y])]
    columns = [x for x in range(width) if any(row[x] for row in dark)]
    top, bottom, left, right = rows[0], rows[-1] + 1, columns[0], columns[-1] + 1
    # The finder pattern in the corner starts with seven dark modules.
    line = dark[top + (bottom - top) // 200 + 1][left:right]
    run = next(at for at, (one, two) in enumerate(pairwise(line), 1) if one != two)
    size = round((right - left) / (run / 7))
    step = (right - left) / size
    found = [
        [dark[int(top + (i + 0.5) * step)][int(left + (j + 0.5) * step)] for j in range(size)] for i in range(size)
    ]
    quiet = min(top, left, width - right, height - bottom) / step
    return found, quiet
