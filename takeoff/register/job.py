"""Whether a register is this job's, and what an issue is called."""

from __future__ import annotations

from takeoff import __version__
from takeoff.queries import ASSUMED, CHECK, Query, query, register
from takeoff.register.file import RegisterError
from takeoff.released import Issue, Register
from takeoff.settings import Settings
from takeoff.steel import Model

REVISION_ASSUMED = register(
    "register-revision-assumed",
    ASSUMED,
    "The settings name no revision: the register counts these lists as the issue {0}, by the model file's date.",
    "Name the revision under [documents] in the settings, so that a model saved anew is not counted as a new issue.",
)
TOLERANCES_DIFFER = register(
    "register-tolerances-differ",
    CHECK,
    "The settings' tolerances of one mark differ from those that {0} marks of the register were released by; "
    "these marks are judged by their own.",
    "Set the old tolerances under [identity] again, or take it that new marks follow the new ones.",
)
UNDATED = "not named"


def issue_of(model: Model, settings: Settings) -> Issue:
    """This run as an issue. Nothing of the clock is in it, so that the same run again is the same issue."""
    documents = settings.documents
    date = documents.date or model.date
    return Issue(
        revision=documents.revision.strip() or date or UNDATED,
        date=date,
        model=model.name,
        checksum=model.checksum,
        rules=settings.identity,
        mass=settings.weights.mass,
        program=__version__,
    )


def job_queries(known: Register, model: Model, settings: Settings) -> tuple[Query, ...]:
    """What is assumed of the issue, and where its tolerances are not those of the register's marks."""
    found = []
    if not settings.documents.revision.strip():
        found.append(query(REVISION_ASSUMED, issue_of(model, settings).revision))
    other = sum(piece.rules != settings.identity for piece in known.pieces)
    if other:
        found.append(query(TOLERANCES_DIFFER, other))
    return tuple(found)


def check_belongs(known: Register, model: Model, settings: Settings) -> None:
    """Raises RegisterError where the register is of another job, or where that cannot be told.

    The job's name in the settings decides where register and settings have one; else the GlobalIds of the models'
    projects, which programs keep from one export to the next: one of them must be known.
    """
    name = settings.documents.job.strip()
    if not name and not model.projects:
        raise RegisterError(
            "The register cannot be used: neither the settings nor the model say which job this is. Name the "
            "job under [documents] in the settings."
        )
    if not known.job and not known.projects:
        return  # just begun
    _check_whole(known, model, settings)
    of = f"the job {known.job}" if known.job else f"the model {known.issues[-1].model}" if known.issues else "a job"
    if name and known.job:
        if name != known.job:
            raise RegisterError(
                f"The register is of {of}, and the settings name the job {name}. Give the register of this job, "
                "or mend the name of the job under [documents]."
            )
    elif not set(known.projects) & set(model.projects):
        raise RegisterError(
            f"The register is of {of}, and the model {model.name} belongs to another project. Give the register "
            "of this job. If it is this one, name the job under [documents] in the settings: for the issue that begins "
            "the register, and for all that follow."
        )


def _check_whole(known: Register, model: Model, settings: Settings) -> None:
    """An issue's quantities are set, not added: lists of another model under its name would undo them."""
    revision = issue_of(model, settings).revision
    for earlier in known.issues:
        if earlier.revision == revision and sorted(earlier.model.split(" + ")) != sorted(model.name.split(" + ")):
            raise RegisterError(
                f"The register has the issue {revision} as lists of {earlier.model}, and this is {model.name}. An "
                "issue is the whole job: give all its models in one run. For a new state of the model name another "
                "revision under [documents] in the settings, or keep the file's name."
            )


def adopted(known: Register, model: Model, settings: Settings) -> tuple[str, tuple[str, ...]]:
    """The register's job and projects with those of this run among them."""
    projects = (*known.projects, *(p for p in model.projects if p not in known.projects))
    return known.job or settings.documents.job.strip(), projects
