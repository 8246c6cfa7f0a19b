"""Time and quality of cutting plans on made-up steel and on bars cut up into three.

python tests/benchmarks/cutting.py
"""

import random
import time

from takeoff.stock import cutting_plan


def steel(kinds, pieces, seed):
    """``pieces`` of ``kinds`` lengths between 400 and 5900 mm."""
    cut = random.Random(seed)
    lengths = cut.sample(range(400, 5900), kinds)
    quantities = [1] * kinds
    for _ in range(pieces - kinds):
        quantities[cut.randrange(kinds)] += 1
    return lengths, quantities


def triplets(pieces, seed):
    """Bars of 1000 mm, each cut into three pieces without waste."""
    cut = random.Random(seed)
    lengths = []
    for _ in range(pieces // 3):
        a = cut.randrange(380, 490)
        b = cut.randrange(250, (1000 - a) // 2 + 1)
        lengths += [a, b, 1000 - a - b]
    return lengths, [1] * pieces


def odd_stock(seed):
    """Dear and cheap bars, and twelve odd off-cuts."""
    cut = random.Random(seed)
    offcuts = [(length := cut.randrange(1500, 7000), length // 2, 1) for _ in range(12)]
    return [(6000, 6600, None), (12000, 12000, None), *offcuts]


def report(name, lengths, quantities, stock, **more):
    start = time.perf_counter()
    plan = cutting_plan(lengths, quantities, stock, **more)
    seconds = time.perf_counter() - start
    state = "proved" if plan.proved else f"gap {plan.gap:.4%}"
    lost = sum(o * p.times for o, p in zip(plan.offcuts, plan.patterns, strict=True) if o < more.get("keep", o + 1))
    counts = f"{plan.bars:>6} bars  {len(plan.patterns):>4} patterns  {lost / 1000:>6.1f} m useless"
    print(f"{name:<44} {counts}  {state:<14} {seconds:6.2f} s", flush=True)


def main():
    two = [(6000, 6000, None), (12000, 12000, None)]
    saw = {"kerf": 3, "trim": 20}
    for seed in (1, 2, 3):
        report(f"60 lengths, 6 000 pieces, 6 and 12 m, {seed}", *steel(60, 6000, seed), two, **saw)
    for seed in (1, 2, 3):
        report(f"400 lengths, 20 000 pieces, 6 and 12 m, {seed}", *steel(400, 20000, seed), two, **saw)
    for seed in (1, 2, 3):
        report(f"501 pieces, three a bar, {seed}", *triplets(501, seed), [(1000, 1, None)])
    for seed in (1, 2):
        report(f"60 lengths, 6 000 pieces, 12 off-cuts, {seed}", *steel(60, 6000, seed), odd_stock(seed), **saw)
    report("30 lengths, 90 pieces, 12 off-cuts", *steel(30, 90, 4), odd_stock(4), **saw)
    kept = {**saw, "stub": 103, "keep": 1000}
    for kinds, pieces in ((20, 150), (40, 300), (60, 6000), (400, 20000)):
        report(f"{kinds} lengths, {pieces} pieces, off-cuts kept", *steel(kinds, pieces, 1), two, **kept)


if __name__ == "__main__":
    main()
