"""The engine of the bar cutting plan: column generation, diving, integer programmes, proofs.

Vocabulary
----------
A *size* is a piece's length plus the kerf that parts it from the next; a bar's *capacity*
is its length less the trims plus one kerf, since the last piece needs no cut behind it
where it ends with the bar. A *pattern* says how many of each size are cut from one bar.
The *pool* is the patterns found so far. The *price* is what the plan minimises: money,
or mm of bar.

The way: greedy plans first; then the linear relaxation by column generation, which
gives the lower bound; then dives (round, generate again, finish greedily), an integer
programme over the pool, and, where plan and bound still differ, a list of every pattern
that a better plan could use. At the price so found, less useless waste is looked for
(tidy, keeping, leftover), and then fewer patterns (tidy, runs).

What it does not know: time. Every step stops by a count, so the plan is the same on
every machine; only the caller's safety valve looks at a clock.
"""
