"""The command line: arguments in, exit status out. With __main__ the only module that prints or exits."""

from __future__ import annotations

import argparse
import contextlib
import gc
import os
import signal
import sys
import threading
import traceback
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Final

from takeoff import __version__

if TYPE_CHECKING:
    from takeoff.entries import Entries
    from takeoff.exchange.machine import Machine
    from takeoff.output import Staging
    from takeoff.register import Ledger
    from takeoff.settings import Settings
    from takeoff.steel import Takeoff
    from takeoff.summary import Figures

WRITTEN, WRITTEN_SOME_HELD, WRONG_USE, UNREADABLE, FAULT, INTERRUPTED = 0, 1, 2, 3, 70, 130
DIFFERENT: Final = 1

WORKBOOK: Final = "lists.xlsx"
MARKS_NAMED: Final = 10
"""Marks that the summary names before it counts the rest."""

EXIT_STATUS: Final = """\
exit status:
  0    lists written, nothing held (a model without steel too)
  1    lists written, some parts are held: see queries.pdf
  2    wrong use: arguments, settings, an output folder that cannot be written, a register
       that is damaged, read-only or of another job; nothing was replaced
  3    a model could not be read; nothing was replaced
  70   a fault of this program; nothing was replaced
  130  stopped with Ctrl-C
"""


COMPARE_STATUS: Final = """\
exit status:
  0    no difference
  1    differences: see changes.pdf
  2    wrong use: arguments, settings, a register that cannot be used, an output folder that
       cannot be written; nothing was replaced
  3    a model or a folder of lists could not be read; nothing was replaced
  70   a fault of this program; nothing was replaced
  130  stopped with Ctrl-C
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status; argparse raises SystemExit for wrong arguments."""
    for stream in (sys.stdout, sys.stderr):
        # A name in a model may hold letters that this terminal's encoding lacks.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    arguments = _parser().parse_args(argv)
    with _ending_cleanly():
        try:
            return int(arguments.run(arguments))
        except KeyboardInterrupt:
            _say("Stopped.")
            return INTERRUPTED
        except MemoryError:
            _say("The model needs more memory than this machine has. The last lists are unchanged.")
            return UNREADABLE
        except Exception:
            traceback.print_exc()
            _say(
                "This is a fault of the program, not of the model or of its use. The last lists are "
                "unchanged. Report it with the lines above and, where you may, the model."
            )
            return FAULT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="takeoff",
        description="Shop lists for punched and bolted steel, read from a structural IFC model.",
        epilog=EXIT_STATUS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"takeoff {__version__}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)

    lists = commands.add_parser(
        "lists",
        help="read one or more models and write every list and sheet",
        description="Read one or more models as one job and write its lists and sheets: cut and punch "
        "sheets, bolt lists, weights, queries, a review page, a workbook and CSV tables.",
        epilog=EXIT_STATUS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    lists.add_argument(
        "models",
        nargs="+",
        type=Path,
        metavar="MODEL",
        help="an .ifc or .ifczip file (IFC2x3, IFC4, IFC4x3)",
    )
    lists.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="DIR",
        help="folder for the lists (default: output/<model name>/ here); other files in it are left alone",
    )
    lists.add_argument(
        "--settings",
        type=Path,
        metavar="FILE",
        help="the shop's settings, a TOML file; `takeoff settings` prints one to start from",
    )
    lists.add_argument(
        "--register",
        type=Path,
        metavar="FILE",
        help="the job's mark register: a mark once released means one piece for ever; made where it is not there yet",
    )
    lists.add_argument(
        "--nc",
        action="store_true",
        help="also write a numerical control file for each piece mark that is not held, into DIR/nc; "
        "make the test piece before a line's first job (`takeoff test-piece`)",
    )
    lists.add_argument(
        "--dxf",
        action="store_true",
        help="also write plates and flats as drawings 1:1 for cutting, into DIR/dxf",
    )
    lists.add_argument(
        "--no-bars",
        action="store_true",
        help="leave out the cutting plan of bars, their order and the running order (bars.pdf)",
    )
    lists.set_defaults(run=_lists)

    compare = commands.add_parser(
        "compare",
        help="what a new revision changes, and what becomes of released pieces",
        description="Hold two revisions against each other, models or folders that `takeoff lists` wrote, and write "
        "what is different: pieces added, gone, changed in quantity or shape, assemblies, bolts, weight. Other "
        "GlobalIds, names, order or position alone are no difference. With the job's register every released piece "
        "gets a verdict: as it was, rework, scrap.",
        epilog=COMPARE_STATUS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    compare.add_argument("old", type=Path, metavar="OLD", help="the earlier model, or the folder of its lists")
    compare.add_argument("new", type=Path, metavar="NEW", help="the later model, or the folder of its lists")
    compare.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="DIR",
        help="folder for changes.pdf and tables/changes.csv (default: output/<old>-to-<new>/ here)",
    )
    compare.add_argument("--settings", type=Path, metavar="FILE", help="the shop's settings, a TOML file")
    compare.add_argument(
        "--register",
        type=Path,
        metavar="FILE",
        help="the job's mark register: what was released gets a verdict; it is read only",
    )
    compare.set_defaults(run=_compare)

    trial = commands.add_parser(
        "test-piece",
        help="write the machine file of a test piece and what it must look like",
        description="Write the numerical control file of a test piece, an unequal angle with a hole in each leg, and "
        "a page that says what the finished piece must look like. Make it once before a line's first job: it shows "
        "whether the line reads the files as they are meant, on the right leg and of the right hand.",
    )
    trial.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="DIR",
        default=Path("output") / "test-piece",
        help="folder for the two files (default: output/test-piece/ here)",
    )
    trial.add_argument(
        "--settings",
        type=Path,
        metavar="FILE",
        help="the shop's settings, a TOML file; the table [nc] matters here",
    )
    trial.set_defaults(run=_test_piece)

    settings = commands.add_parser(
        "settings",
        help="print the default settings file",
        description="Print the default settings file with every option explained. Keep it with "
        "`takeoff settings > shop.toml`, change what differs in your shop and give it to "
        "`takeoff lists --settings shop.toml`.",
    )
    settings.set_defaults(run=_settings)
    return parser


def _settings(arguments: argparse.Namespace) -> int:
    from takeoff.settings_file import default_text

    return _print(default_text().rstrip("\n"), WRITTEN)


def _settings_of(arguments: argparse.Namespace) -> Settings | None:
    """The settings asked for, or None after saying what is wrong with their file."""
    from takeoff.settings import Settings
    from takeoff.settings_file import SettingsError, load

    try:
        return load(arguments.settings) if arguments.settings else Settings()
    except SettingsError as error:
        for sentence in error.sentences:
            _say(sentence)
        return None


def _test_piece(arguments: argparse.Namespace) -> int:
    from takeoff.exchange.trial import trial_files

    settings = _settings_of(arguments)
    if settings is None:
        return WRONG_USE
    folder: Path = arguments.output
    files = trial_files(settings)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            (folder / name).write_bytes(content)
    except OSError as error:
        _say(f"The test piece cannot be written to {folder}: {error.strerror or error}. Name another folder with -o.")
        return WRONG_USE
    names = " and ".join(sorted(files))
    return _print(f"Written in {folder}: {names}. Make the piece and hold it against the page.", WRITTEN)


def _lists(arguments: argparse.Namespace) -> int:
    from takeoff.entries import EntriesError, read_entries
    from takeoff.output import OutputError, Staging
    from takeoff.register import Ledger, RegisterError

    models: list[Path] = arguments.models
    twice = _given_twice(models)
    if twice:
        _say(f"{twice} is given twice; its parts would be counted twice. Give each model once.")
        return WRONG_USE
    settings = _settings_of(arguments)
    if settings is None:
        return WRONG_USE
    target: Path = arguments.output or Path("output") / _job_name(models)
    staging = Staging(target)
    try:
        with contextlib.ExitStack() as stack:
            ledger = None
            if arguments.register:
                if _is_a_list(arguments.register, target):
                    raise RegisterError(
                        f"{arguments.register} is the name of one of the lists. Give the register another one."
                    )
                ledger = stack.enter_context(Ledger(arguments.register, _waiting))
            stack.enter_context(staging)
            # Before the model: who has the workbook open should not wait for the end to hear of it.
            entries = read_entries(target / WORKBOOK)
            return _take_off(
                models,
                settings,
                staging,
                ledger,
                entries,
                nc=arguments.nc,
                dxf=arguments.dxf,
                bars=not arguments.no_bars,
            )
    except (OutputError, RegisterError, EntriesError) as error:
        _say(str(error))
        return WRONG_USE
    except KeyboardInterrupt:
        where = "The new lists are complete" if staging.swapped else "The last lists are unchanged"
        _say(f"Stopped. {where}.")
        return INTERRUPTED


def _compare(arguments: argparse.Namespace) -> int:
    from takeoff.output import OutputError, Staging
    from takeoff.progress import shown_on
    from takeoff.register import RegisterError

    settings = _settings_of(arguments)
    if settings is None:
        return WRONG_USE
    old, new = arguments.old, arguments.new
    target: Path = arguments.output or Path("output") / f"{_job_name([old])}-to-{_job_name([new])}"
    gc.disable()
    from takeoff.comparing import UnreadableLists
    from takeoff.comparison import CHANGES_PDF, compare_revisions, comparison_summary, write_comparison
    from takeoff.output import unwritable
    from takeoff.pipeline import Unreadable

    staging = Staging(target)
    try:
        with staging:
            try:
                with shown_on(sys.stderr) as progress:
                    found = compare_revisions(old, new, settings, progress, arguments.register)
            except (Unreadable, UnreadableLists) as error:
                _say(str(error))
                return UNREADABLE
            except OSError as error:
                _say(f"{error.filename or 'A model'} cannot be read: {error.strerror or error}.")
                return UNREADABLE
            try:
                write_comparison(found, settings, staging.folder)
            except OSError as error:
                raise OutputError(unwritable(target, error)) from error
            files = staging.swap(last=CHANGES_PDF, beside=True)
    except (OutputError, RegisterError) as error:
        _say(str(error))
        return WRONG_USE
    except KeyboardInterrupt:
        _say("Stopped.")
        return INTERRUPTED
    text = comparison_summary(found, [target / name for name in files])
    return _print(text, DIFFERENT if found.differs else WRITTEN)


def _is_a_list(register: Path, target: Path) -> bool:
    """Whether the register would stand where a list goes, and be replaced by it."""
    from takeoff.output import KNOWN

    return register.resolve() in {(target / name).resolve() for name in KNOWN}


def _waiting() -> None:
    _say("Another run has the register; this one waits until it ends.")


def _put_in_place(staging: Staging, ledger: Ledger | None, takeoff: Takeoff, entries: Entries) -> list[str]:
    """The register first, then the lists (see register/ledger.py); both or, where the lists fail, neither.

    Raises EntriesError where somebody saved the last workbook meanwhile.
    """
    entries.still_there()
    if ledger is None or takeoff.release is None:
        return staging.swap()
    ledger.replace(takeoff.release.register)
    try:
        return staging.swap()
    finally:
        if not staging.swapped:
            ledger.restore()


def _take_off(
    models: Sequence[Path],
    settings: Settings,
    staging: Staging,
    ledger: Ledger | None,
    entries: Entries,
    *,
    nc: bool,
    dxf: bool,
    bars: bool,
) -> int:
    """Read, write and put in place; returns the exit status. Raises OutputError, RegisterError and EntriesError."""
    # Nothing here makes cycles by the thousand; looking for them takes a seventh of a big job's time.
    gc.disable()
    from takeoff.documents import bars_of, dispatch_of, write_documents
    from takeoff.exchange.machine import machine_files
    from takeoff.output import OutputError, unwritable
    from takeoff.progress import part, shown_on
    from takeoff.routing import hole_left_to

    # Ends within the block, so that the summary stands below the finished bar.
    with contextlib.ExitStack() as stack:
        progress = stack.enter_context(shown_on(sys.stderr))
        progress("Starting", 0.0)
        from takeoff.measuring import Solids, with_solids
        from takeoff.pipeline import Unreadable, take_off

        solids = stack.enter_context(Solids(models, settings))
        try:
            known = (ledger.register,) if ledger else ()
            takeoff = take_off(models, settings, part(progress, 0.0, 0.7), *known)
        except Unreadable as error:
            unreadable = str(error)
        except OSError as error:
            unreadable = f"{error.filename or 'A model'} cannot be read: {error.strerror or error}."
        else:
            unreadable = ""
            skip = partial(hole_left_to, settings=settings)
            plans = None
            solids.ask(takeoff)
            machine, takeoff = machine_files(takeoff, settings, nc=nc, dxf=dxf, skip=skip)
            if bars:
                progress("Planning bars", 0.7)
                plans, takeoff = bars_of(takeoff, settings)
            takeoff = with_solids(takeoff, solids)
            dispatch, takeoff = dispatch_of(takeoff, settings)
            try:
                write_documents(
                    takeoff, settings, staging.folder, part(progress, 0.75, 1.0), machine, plans, dispatch, entries
                )
            except OSError as error:
                raise OutputError(unwritable(staging.target, error)) from error
            files = _put_in_place(staging, ledger, takeoff, entries)
    if unreadable:
        _say(unreadable)
        _say("Nothing was written; lists of an earlier run are unchanged.")
        return UNREADABLE
    from takeoff.summary import figures

    found = figures(takeoff)
    more = [*_register_lines(takeoff, ledger), *_entry_lines(takeoff, entries), *_machine_lines(machine)]
    text = _summary(found, models, staging.target, files, more)
    return _print(text, WRITTEN_SOME_HELD if found.something_held else WRITTEN)


def _register_lines(takeoff: Takeoff, ledger: Ledger | None) -> list[str]:
    """Which issue the register has these lists as, and what became of its marks."""
    release = takeoff.release
    if ledger is None or release is None:
        return []
    pieces = release.pieces
    begun = ", begun by this run" if ledger.begun else ""
    marks = f"{len(pieces.new)} new, {len(pieces.kept)} kept, {len(pieces.retired)} retired"
    lines = [f"  register {ledger.path}{begun}: issue {release.revision}: marks {marks}"]
    if pieces.reserved:
        lines.append(f"           {_count(len(pieces.reserved), 'mark')} on HOLD: reserved, not released")
    return lines


def _entry_lines(takeoff: Takeoff, entries: Entries) -> list[str]:
    """What became of the entries in the last workbook."""
    from takeoff.columns import KEPT
    from takeoff.entries import settle

    if not entries.rows:
        return []
    settled = settle(entries, takeoff.pieces)
    lines = [f"  entries  {_count(settled.placed, 'mark')} with what was entered in {WORKBOOK}"]
    if settled.kept:
        rows = _count(len(settled.kept), "row")
        lines.append(f"           {rows} whose mark is gone or another piece now: see its sheet {KEPT}")
    return lines


def _summary(found: Figures, models: Sequence[Path], target: Path, files: Sequence[str], more: Sequence[str]) -> str:
    """What a person wants to know at the end of a run."""
    from takeoff.steel import HELD
    from takeoff.units import kilograms

    names = ", ".join(path.name for path in models)
    parts, queries = found.parts, found.queries
    bolts = sum(found.bolts.values())
    head = f"{names}: {_count(found.pieces, 'piece')} under {_count(found.marks, 'mark')}, {_count(bolts, 'bolt')}"
    if not found.marks and not bolts:
        head = f"{names}: no steel to cut, punch or bolt was found. The lists say what became of each part, and why."
        if found.something_held:
            head = f"{names}: nothing to cut or punch could be read with certainty. What is held, and why, is listed."
    steel = f"{kilograms(found.net_weight_kg)} kg net, {kilograms(found.gross_weight_kg)} kg gross"
    if bolts:
        known = found.bolt_weight_kg is not None
        steel += f"; bolt sets {kilograms(found.bolt_weight_kg or 0.0)} kg" if known else "; bolt sets not all known"
    lines = [
        head,
        f"  parts    {sum(parts.values())} in the model: {_by(parts)}",
        f"  bolts    {bolts} in the model: {_by(found.bolts)}",
        f"  steel    {steel}",
        f"  queries  {sum(queries.values())}: {_by(queries)}",
        f"  written  {_count(len(files), 'file')} in {target}",
        *more,
    ]
    if found.something_held:
        held = f"{_count(parts[HELD], 'part')} and {_count(found.bolts[HELD], 'bolt')}"
        if found.held_marks:
            held = f"{_count(found.held_marks, 'mark')} ({kilograms(found.held_net_weight_kg)} kg), {held}"
        lines.append(f"HELD: {held}. Do not cut before the queries are answered.")
    first = target / ("queries.pdf" if "queries.pdf" in files else "cut-and-punch.pdf")
    lines.append(f"Read first: {first}")
    if found.marks:
        lines.append("Check the first piece of each mark against its sheet before running the quantity.")
    return "\n".join(lines)


def _machine_lines(machine: Machine) -> list[str]:
    """For each kind of machine file asked for, how many there are and which marks have none."""
    lines = []
    for kind, made in machine.kinds.items():
        lines.append(f"  {kind:<9}{_count(len(made.files), 'file')} in {kind}/")
        if made.without:
            marks = sorted(made.without)
            named = ", ".join(marks[:MARKS_NAMED])
            more = f" and {len(marks) - MARKS_NAMED} more" if len(marks) > MARKS_NAMED else ""
            held = sum(reason == "it is held" for reason in made.without.values())
            lines.append(
                f"           none for {named}{more}: {held} held, {len(marks) - held} for other reasons (summary.json)"
            )
        if made.left_out:
            marks = sorted(made.left_out)
            named = ", ".join(marks[:MARKS_NAMED])
            more = f" and {len(marks) - MARKS_NAMED} more" if len(marks) > MARKS_NAMED else ""
            holes = _count(sum(map(len, made.left_out.values())), "hole")
            lines.append(f"           {holes} of each piece left out of the files of {named}{more}: see the queries")
    if "nc" in machine.kinds:
        lines.append("           make the test piece before this line's first job: takeoff test-piece")
    return lines


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _by(counts: dict[str, int]) -> str:
    return ", ".join(f"{count} {name}" for name, count in counts.items())


def _job_name(models: Sequence[Path]) -> str:
    """The name of the output folder: the models' names joined."""
    from takeoff.ifc.archives import model_name

    places = [path.resolve() for path in models]
    stems = [place.stem if (name := model_name(place)) == place.name else name for place in places]
    name = "+".join(stems)
    return name if len(name) <= 100 else f"{stems[0][:80]}+{len(stems) - 1} more"


def _given_twice(models: Sequence[Path]) -> Path | None:
    seen: set[Path] = set()
    for path in models:
        place = path.resolve()
        if place in seen:
            return path
        seen.add(place)
    return None


def _say(sentence: str) -> None:
    # Standard error may be closed or full; there is nowhere left to say so.
    with contextlib.suppress(OSError):
        print(f"takeoff: {sentence}", file=sys.stderr, flush=True)


def _print(text: str, status: int) -> int:
    """Print to standard output; ``status``, unless it cannot be written to."""
    try:
        print(text, flush=True)
    except BrokenPipeError:
        # The reader (as `head`) has had enough. Python would flush once more at its end, and complain.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        _say(f"Standard output cannot be written: {error.strerror}.")
        return WRONG_USE
    return status


@contextlib.contextmanager
def _ending_cleanly() -> Iterator[None]:
    """Take a request to end (a closed terminal, `kill`) as leave to tidy up first."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def end(number: int, frame: FrameType | None) -> None:
        raise SystemExit(128 + number)

    watched = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    # A run started with nohup ignores SIGHUP, and is to go on doing so.
    before = {n: signal.getsignal(n) for n in watched if signal.getsignal(n) not in (None, signal.SIG_IGN)}
    for number in before:
        signal.signal(number, end)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
