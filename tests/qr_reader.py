"""Reads a QR code back from its modules, by ISO/IEC 18004: versions 1 to 6, byte mode, without error correction.

Written for the tests from the standard's rules as commonly published (format mask 101010000010010, masks 0 to 7,
block sizes of table 9 for level M); from memory, and held against codes that a general reader read from paper.
"""

FORMAT_MASK = 0b101010000010010
BLOCKS_M = {1: (16,), 2: (28,), 3: (44,), 4: (32, 32), 5: (43, 43), 6: (27, 27, 27, 27)}
"""Version -> data codewords of each block at level M."""
MASKS = (
    lambda r, c: (r + c) % 2 == 0,
    lambda r, c: r % 2 == 0,
    lambda r, c: c % 3 == 0,
    lambda r, c: (r + c) % 3 == 0,
    lambda r, c: (r // 2 + c // 3) % 2 == 0,
    lambda r, c: r * c % 2 + r * c % 3 == 0,
    lambda r, c: (r * c % 2 + r * c % 3) % 2 == 0,
    lambda r, c: ((r + c) % 2 + r * c % 3) % 2 == 0,
)


def read(modules):
    """The text of a code given as rows of dark (True) and light modules; ValueError where it is not one."""
    size = len(modules)
    version, rest = divmod(size - 17, 4)
    if rest or version not in BLOCKS_M or any(len(row) != size for row in modules):
        raise ValueError(f"{size} modules are no version this reads")
    finder = [[max(abs(r - 3), abs(c - 3)) != 2 for c in range(7)] for r in range(7)]
    for top, left in ((0, 0), (0, size - 7), (size - 7, 0)):
        if [row[left : left + 7] for row in modules[top : top + 7]] != finder:
            raise ValueError("a finder pattern is missing")
    places = [(8, c) for c in (0, 1, 2, 3, 4, 5, 7, 8)] + [(r, 8) for r in (7, 5, 4, 3, 2, 1, 0)]
    found = int("".join(str(int(modules[r][c])) for r, c in places), 2) ^ FORMAT_MASK
    if found >> 13 != 0b00:  # level M
        raise ValueError("the level is not M")
    mask = MASKS[found >> 10 & 7]
    bits = []
    for r, c in _path(size):
        if not _function(r, c, size, version):
            bits.append(modules[r][c] != mask(r, c))
    words = [int("".join(str(int(b)) for b in bits[k : k + 8]), 2) for k in range(0, len(bits) - 7, 8)]
    blocks = [[] for _ in BLOCKS_M[version]]
    position = 0
    for k in range(max(BLOCKS_M[version])):
        for block, many in zip(blocks, BLOCKS_M[version], strict=True):
            if k < many:
                block.append(words[position])
                position += 1
    data = "".join(f"{word:08b}" for block in blocks for word in block)
    if data[:4] != "0100":
        raise ValueError("not in byte mode")
    count = int(data[4:12], 2)
    return bytes(int(data[12 + 8 * k : 20 + 8 * k], 2) for k in range(count)).decode("utf-8")


def _path(size):
    """Modules in the order of the bits: two columns at a time from the right, up and down; column 6 is skipped."""
    upward = True
    for right in (c if c > 6 else c - 1 for c in range(size - 1, 0, -2)):
        for r in range(size - 1, -1, -1) if upward else range(size):
            yield r, right
            yield r, right - 1
        upward = not upward


def _function(r, c, size, version):
    corner = (r < 9 and c < 9) or (r < 9 and c >= size - 8) or (r >= size - 8 and c < 9)
    alignment = version > 1 and abs(r - (size - 7)) <= 2 and abs(c - (size - 7)) <= 2
    return corner or alignment or r == 6 or c == 6
