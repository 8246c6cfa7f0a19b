"""The rules of the map in DEVELOPERS.md, held by looking at the imports and calls of every module."""

import ast
from pathlib import Path

import pytest

import takeoff

ROOT = Path(takeoff.__file__).parent
MODULES = {
    path.relative_to(ROOT).with_suffix("").as_posix(): ast.parse(path.read_text(encoding="utf-8"))
    for path in sorted(ROOT.rglob("*.py"))
}

ONLY_IN = {
    "ifcopenshell": ("ifc/",),
    "pandas": ("lists", "workbook"),
    "xlsxwriter": ("workbook", "sheetcells", "totalsheets"),
    "openpyxl": ("entries",),
    "reportlab": ("sheets/",),
    "cattrs": ("settings_file",),
    "rich": ("progress",),
    "highspy": ("cutting/",),
    "argparse": ("cli",),
    "ezdxf": ("exchange/dxf",),
    "polib": ("words/__init__",),
}
"""Library -> the only modules (or folders, with a slash) that may import it."""

LATE = ("pandas", "xlsxwriter", "openpyxl", "reportlab", "shapely", "scipy", "networkx", "ifcopenshell", "ezdxf")
"""Libraries whose import takes long: asking for help or a version must not wait for them."""

NOUNS = {
    "__init__", "steel", "queries", "units", "settings", "settings_file", "columns", "progress", "order", "plans",
    "beside", "words", "released", "dispatch", "revision",
}  # fmt: skip
"""What every module may import: values and tables of words."""

GEOMETRY = {
    "outlines",
    "turned",
    "cuts",
    "gauges",
    "identity",
    "holerows",
    "sections/",
    "rules/",
    "stock",
    "cutting/",
    "drawn/",
}
"""What stages may share: the geometry of one part, the tables of the trade, cutting bars. It knows no stage."""

CONDUCTORS = {"pipeline", "documents", "measuring", "comparison", "cli", "__main__"}
"""Modules whose work is to call others in order."""

OUTPUTS = {
    "lists": {"bartables", "dispatchtables"},
    "workbook": {"lists", "entries", "sheetcells", "totalsheets"},
    "totalsheets": {"entries", "sheetcells"},
    "documents": {"lists", "workbook", "summary", "sheets", "review"},
}


def imports(tree, *, top_only=False):
    """Dotted names imported by a module, those within functions too unless ``top_only``.

    An import under ``if TYPE_CHECKING`` is not one at run time and is left out of ``top_only``.
    """
    found = set()
    for node in tree.body if top_only else ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def own_modules(tree):
    """Modules of the package that a module imports, as paths below it."""
    found = set()
    for name in imports(tree):
        if name.split(".")[0] != "takeoff":
            continue
        path = name.split(".")[1:]
        while path and "/".join(path) not in MODULES and f"{'/'.join(path)}/__init__" not in MODULES:
            path = path[:-1]
        found.add("/".join(path) or "__init__")
    return found


def within(module, places):
    return any(module.startswith(place) if place.endswith("/") else module == place for place in places)


@pytest.mark.parametrize("library", ONLY_IN)
def test_a_library_stays_where_it_belongs(library):
    users = {m for m, tree in MODULES.items() if any(n.split(".")[0] == library for n in imports(tree))}
    assert {m for m in users if not within(m, ONLY_IN[library])} == set()


def test_only_the_command_line_prints_or_exits():
    offenders = set()
    for module, tree in MODULES.items():
        if module in ("cli", "__main__"):
            continue
        for node in ast.walk(tree):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in ("print", "exit", "quit")
            ):
                offenders.add((module, node.func.id))
            if (
                isinstance(node, ast.Attribute)
                and isinstance(node.value, ast.Name)
                and (node.value.id, node.attr)
                in {("sys", "exit"), ("sys", "stdout"), ("sys", "stderr"), ("os", "_exit")}
            ):
                offenders.add((module, f"{node.value.id}.{node.attr}"))
            if isinstance(node, ast.Name) and node.id == "SystemExit":
                offenders.add((module, "SystemExit"))
    assert offenders == set()


def allowed(module, used):
    """Whether a module that conducts nothing may import another."""
    if used in NOUNS:
        return True
    if module in NOUNS:
        return False
    if within(used, GEOMETRY) or within(f"{used}/", GEOMETRY):
        return True
    # A stage may be a folder of modules.
    return used.split("/")[0] == module.split("/")[0] or used in OUTPUTS.get(module, set())


def test_stages_do_not_import_each_other():
    offenders = {
        (module, used)
        for module, tree in MODULES.items()
        if module not in CONDUCTORS
        for used in own_modules(tree)
        if not allowed(module, used)
    }
    assert offenders == set()


def test_the_rule_about_stages_can_fail():
    assert not allowed("marks", "holes")
    assert not allowed("steel", "outlines")
    assert not allowed("identity", "pieces")
    assert not allowed("sheets/draw", "lists")
    assert allowed("sheets/draw", "sheets/page")
    assert allowed("holes", "sections/shapes")


def test_no_module_is_a_drawer_for_odds_and_ends():
    names = {part for module in MODULES for part in module.split("/")}
    assert names & {"utils", "util", "helpers", "helper", "common", "misc", "tools", "base"} == set()


def test_help_waits_for_no_heavy_library():
    """Nothing heavy at the top of what the command line loads before it knows what to do."""
    for module in ("__init__", "__main__", "cli", "settings/__init__", "settings_file", "progress", "output"):
        heavy = {n for n in imports(MODULES[module], top_only=True) if n.split(".")[0] in LATE}
        assert heavy == set(), module


def test_no_error_is_swallowed():
    """An ``except Exception`` or bare ``except`` whose body only passes hides faults."""
    offenders = set()
    for module, tree in MODULES.items():
        for node in ast.walk(tree):
            if isinstance(node, ast.ExceptHandler):
                broad = node.type is None or (
                    isinstance(node.type, ast.Name) and node.type.id in ("Exception", "BaseException")
                )
                if broad and all(isinstance(line, ast.Pass | ast.Continue) for line in node.body):
                    offenders.add((module, node.lineno))
    assert offenders == set()


def test_every_module_opens_with_what_it_is_about():
    silent = {m for m, tree in MODULES.items() if not ast.get_docstring(tree) and tree.body}
    assert silent == set()


def test_every_public_function_says_what_it_does():
    """Classes too; one of a field or a line whose name says it all may go without."""
    silent = {
        (module, node.name)
        for module, tree in MODULES.items()
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
        if not ast.get_docstring(node) and len(node.body) > 1
    }
    assert silent == set()
