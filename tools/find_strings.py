"""Finds, in the add-on's source, every text that can reach the artist.

An f-string becomes an entry with slots, named after what is inserted; where it chooses between
words, it becomes one entry for each choice. Only modules are read that the user interface imports,
directly or not, and of these not what writes the reports, which stay English.
"""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path

ADDON = Path(__file__).resolve().parent.parent / "addon" / "evenfold"
REPORTS = (
    "core/report/as_", "core/report/page/", "core/report/against", "core/report/written",
    "core/portrait", "core/report/proportion_json", "core/report/sized", "host/batch", "host/files", "core/pairing/",
)
"""Modules whose texts stay English: written reports, refusals of programs' calls."""
NUMBER_SPEC = re.compile(r"^[+]?0?[\d,]*(\.\d+)?[,defg%]$|^,$")
COUNTS = frozenset((
    "count", "counts", "total", "hidden", "islands", "number", "missing_count", "kinds", "users",
    "alone", "gone_count", "lost_count", "degrees", "pairs", "centre", "excused", "allowed", "steps",
    "free", "selected", "old", "new", "there_count",
))
SIZES = frozenset(("size", "low_text", "high_text", "limits"))
"""Variables that hold a length or a size already written out."""
COUNTING = frozenset(("len", "int", "round", "sum"))
WORDING = frozenset((
    "shown", "_listed",
    "plain_word", "landmark_words", "label", "span_words", "row_words", "direction_words", "counted",
    "_words", "_unsafe", "_strength", "span_change", "compare_difference", "_change", "str", "tool_name",
))
"""Functions that give words, whatever they are given."""
OWN = frozenset((
    "name", "names", "owner", "bone", "key", "group", "path", "item", "image", "uv_map", "error",
    "strerror", "figure_name", "object_name", "image_name", "twin", "target_name", "first", "partner",
    "appears", "over", "wanted_bone", "material", "gone", "unknown", "known", "failure",
    "value", "values", "head_bone", "here", "there_name", "compared_with", "misread",
))
"""What is inserted as it stands: the artist's names, values of settings, messages of the system."""
NAMED_IN_WORDS = frozenset(("canon", "span"))
"""What has a name that is words of ours."""
LENGTHS = frozenset(("length", "amount", "metres", "to_string"))
LISTS = frozenset(("join", "_shown", "format", "unique_name"))
SURROUNDINGS = frozenset(("scene", "context", "self", "value"))
NOT_SHOWN = {"core/report/plan_text.py": frozenset((
    "compare_line", "compare_lines", "compare_difference", "plan_table", "_lengths", "plan_lines",
    "_plan_lines", "_change", "span_line", "_aligned",
))}
"""Functions that only written reports and the copied plan use."""
PLAIN_CALLS = frozenset((
    "getattr", "setattr", "hasattr", "get", "startswith", "endswith", "removeprefix", "removesuffix",
    "replace", "split", "rsplit", "partition", "compile", "strip", "lstrip", "rstrip", "prop",
    "prop_search", "template_list", "poll", "encode", "decode", "new", "cast", "TypeVar", "namedtuple",
    "temp_override", "partial", "strftime", "subscribe_rna", "path_resolve", "fromisoformat",
))
INTERNAL = frozenset(("ValueError", "TypeError", "KeyError", "RuntimeError", "NotImplementedError"))
"""What is raised only where our own code is wrong."""
NO_WORDS = re.compile(r"[\\\\<>]|^\W*[\w.]+/|\w\(|\w\.\w+\.\w|^\w+ = |\b1[5-9]\d\d\b|\bp\. \d|NAVEDTRA")
"""Patterns, code, and the sources of published figures, which are quoted as they are."""
NO_ENTRIES = frozenset(("3D View", "Hg", "{words:s} and {words2}", "and the", "Evenfold Guides", "Evenfold", "pair", "Blender {version_string}"))
WORDS_ALL_THE_SAME = frozenset(("others", "gone"))
NAMES_ARE_WORDS = ("core/report/plan_text.py", "ui/operators/drawing.py", "core/drawing.py")
"""Files in which a plain ``name`` is a landmark's."""
MOST = 8
"""Words of a table that are put into the sentences that choose from it."""
PLAIN_KEYS = frozenset((
    "icon", "type", "subtype", "default", "options", "unit", "id", "search_data", "encoding", "idname",
    "property", "kind", "unit_type", "mode", "filter_glob", "data_path", "order", "dtype",
))
WORD_KEYS = frozenset(("text", "description", "heading", "title", "text_ctxt"))
CALLED_WITH_WORDS = frozenset(("say", "fact", "table", "label", "report", "announce", "tr", "words", "opener"))
PANEL_PLACES = ("ui/panels/", "ui/words.py", "ui/overlay/", "ui/preferences", "ui/live", "ui/menus")
TABLES = {
    "core/report/plan_text.py": ("SPAN_WORDS",), "core/report/wording.py": ("WORDS",), "core/plane.py": ("PLANES",),
}
"""Tables of single words outside the panels that are shown."""


@dataclass(frozen=True)
class Slot:
    name: str
    kind: str = ""

    def __str__(self) -> str:
        return f"{{{self.name}:{self.kind}}}" if self.kind else f"{{{self.name}}}"


Part = str | Slot


def modules() -> list[Path]:
    """Every file whose texts the interface can show."""
    todo, seen = [ADDON / "ui" / "__init__.py"], set()
    while todo:
        path = todo.pop()
        if path in seen or not path.is_file():
            continue
        seen.add(path)
        todo += [path.parent / "__init__.py", *_imports(path)]
    return sorted(path for path in seen if not place_of(path).startswith(REPORTS))


def place_of(path: Path) -> str:
    return path.relative_to(ADDON).as_posix()


def _imports(path: Path) -> Iterator[Path]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level:
            base = path.parents[node.level - 1].joinpath(*(node.module or "").split("."))
            for found in (base, *(base / one.name for one in node.names)):
                yield found.with_suffix(".py")
                yield found / "__init__.py"


def entries(path: Path) -> Iterator[str]:
    """The entries of one file, in its order."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = _File(place_of(path), tree)
    yield from found.entries()


class _File:
    def __init__(self, place: str, tree: ast.Module) -> None:
        self.place, self.tree = place, tree
        self.shown = place.startswith(PANEL_PLACES)
        self.parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
        self.constants = {
            target.id: node.value for node in tree.body if isinstance(node, ast.Assign)
            for target in node.targets if isinstance(target, ast.Name)
            if isinstance(node.value, ast.Constant | ast.JoinedStr | ast.Dict)
        }

    def entries(self) -> Iterator[str]:
        for node in ast.walk(self.tree):
            if not _is_text(node) or self._inside_text(node) or self._is_no_text(node):
                continue
            for parts in self.alternatives(node):
                text = "".join(map(str, parts)).strip()
                if self._reaches(node, text, parts):
                    yield text
        yield from self._tables()

    def _tables(self) -> Iterator[str]:
        for node in self.tree.body:
            names = {t.id for t in getattr(node, "targets", ()) if isinstance(t, ast.Name)}
            if names & set(TABLES.get(self.place, ())) and isinstance(node.value, ast.Dict):
                yield from (one.value for one in node.value.values if isinstance(one, ast.Constant))

    # what a text can be

    def alternatives(self, node: ast.AST) -> list[tuple[Part, ...]]:
        """Every text the node can give, slots numbered apart."""
        return [tuple(_apart(parts)) for parts in self._alternatives(node)]

    def _alternatives(self, node: ast.AST) -> list[tuple[Part, ...]]:
        if isinstance(node, ast.Constant):
            parts = str(node.value).split("{}")
            return [tuple(part for one in parts for part in (Slot("value", "s"), one))[1:]]
        if isinstance(node, ast.JoinedStr):
            return self._product(node.values)
        if isinstance(node, ast.BinOp):
            return self._product([node.left, node.right])
        if isinstance(node, ast.IfExp):
            return self._alternatives(node.body) + self._alternatives(node.orelse)
        if isinstance(node, ast.FormattedValue):
            inner = node.value
            if node.format_spec is None and _is_text(inner):
                return self._alternatives(inner)
            held = self._held(inner)
            if held:
                return [parts for one in held for parts in self._alternatives(one)]
            return [(self._slot(inner, _spec(node)),)]
        return [(self._slot(node, ""),)]

    def _slot(self, node: ast.AST, spec: str) -> Slot:
        if isinstance(node, ast.Name) and node.id == "name" and self.place in NAMES_ARE_WORDS:
            return Slot("name")
        return _slot(node, spec)

    def _held(self, node: ast.expr) -> list[ast.expr]:
        """The texts a constant of this file stands for, or a table of few of them."""
        if isinstance(node, ast.Name):
            found = self.constants.get(node.id)
            return [found] if found is not None and _is_text(found) else []
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name):
            table = self.constants.get(node.value.id)
            if isinstance(table, ast.Dict) and len(table.values) <= MOST and all(map(_is_text, table.values)):
                return list({one.value: one for one in table.values if isinstance(one, ast.Constant)}.values())
        return []

    def _product(self, nodes: list[ast.expr]) -> list[tuple[Part, ...]]:
        choices = [self._alternatives(one) for one in nodes]
        return [tuple(part for parts in chosen for part in parts) for chosen in product(*choices)]

    # which texts reach the artist

    def _inside_text(self, node: ast.AST) -> bool:
        """Whether the node is a part of a larger text, which stands for it."""
        parent = self.parents.get(node)
        if isinstance(parent, ast.IfExp) and node is parent.test:
            return False
        if isinstance(parent, ast.FormattedValue):
            return node is parent.format_spec or (parent.format_spec is None and _is_text(node))
        return isinstance(parent, ast.JoinedStr) or (parent is not None and _is_text(parent))

    def _is_no_text(self, node: ast.AST) -> bool:
        child, parent = node, self.parents.get(node)
        while parent is not None and not isinstance(parent, ast.stmt):
            if isinstance(parent, ast.Compare | ast.Slice):
                return True
            if isinstance(parent, ast.Subscript) and child is parent.slice and isinstance(child, ast.Constant):
                return True
            if isinstance(parent, ast.Dict) and child in parent.keys:
                return True
            if isinstance(parent, ast.IfExp) and child is parent.test:
                return True
            if isinstance(parent, ast.keyword) and parent.arg in PLAIN_KEYS:
                return True
            if isinstance(parent, ast.Call) and _called(parent) in PLAIN_CALLS and child in parent.args:
                return True
            if isinstance(parent, ast.arg):
                return True
            child, parent = parent, self.parents.get(parent)
        return _plain_statement(parent, child) or self._unshown(parent)

    def _unshown(self, node: ast.AST | None) -> bool:
        """Whether the node is in a function whose texts only reports use."""
        while node is not None and not isinstance(node, ast.FunctionDef):
            node = self.parents.get(node)
        return node is not None and node.name in NOT_SHOWN.get(self.place, ())

    def _reaches(self, node: ast.AST, text: str, parts: tuple[Part, ...]) -> bool:
        words = "".join(part for part in parts if isinstance(part, str))
        if not re.search(r"[^\W\d_]{2}", words):
            return False
        if text in NO_ENTRIES or NO_WORDS.search(words):
            return False
        if re.search(r"[\w})…%'] +\W*[\w{]|[.!?]$", text):
            return True
        return self._is_word(node, text)

    def _is_word(self, node: ast.AST, text: str) -> bool:
        """Whether a single word stands where words are shown."""
        if text.isupper() or not re.fullmatch(r"[^\W\d_][\w'’-]*…?", text) or "_" in text:
            return False
        parent = self.parents[node]
        while isinstance(parent, ast.IfExp):
            node, parent = parent, self.parents[parent]
        if isinstance(parent, ast.keyword):
            call = self.parents[parent]
            property_name = parent.arg == "name" and _called(call).endswith("Property")
            return parent.arg in WORD_KEYS or property_name
        if isinstance(parent, ast.Assign) and any(
            isinstance(one, ast.Name) and one.id in ("bl_label", "bl_description") for one in parent.targets
        ):
            return True
        if not self.place.startswith("ui/"):
            return False
        if isinstance(parent, ast.Tuple) and _is_item(parent):
            return parent.elts.index(node) in (1, 2)
        if not self.shown:
            return False
        if isinstance(parent, ast.Dict):
            return True
        return text[0].isupper() or isinstance(node, ast.IfExp)


def _is_text(node: ast.AST) -> bool:
    """A constant, an f-string, a sum with one, or a choice between such."""
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str)
    if isinstance(node, ast.BinOp):
        return isinstance(node.op, ast.Add) and (_is_text(node.left) or _is_text(node.right))
    if isinstance(node, ast.IfExp):
        return _is_text(node.body) and _is_text(node.orelse)
    return isinstance(node, ast.JoinedStr)


def _plain_statement(statement: ast.AST | None, child: ast.AST) -> bool:
    if isinstance(statement, ast.Expr):
        return isinstance(child, ast.Constant | ast.JoinedStr)
    if isinstance(statement, ast.Raise):
        return isinstance(child, ast.Call) and _called(child) in INTERNAL
    if isinstance(statement, ast.AnnAssign) and child is statement.annotation:
        return not isinstance(child, ast.Call)
    if isinstance(statement, ast.FunctionDef):
        return True
    if isinstance(statement, ast.Assign):
        names = {one.id for one in statement.targets if isinstance(one, ast.Name)}
        return "__all__" in names or any(
            name.startswith("bl_") and name not in ("bl_label", "bl_description") for name in names
        )
    return False


def _called(call: ast.AST) -> str:
    if not isinstance(call, ast.Call):
        return ""
    return call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")


def _is_item(node: ast.Tuple) -> bool:
    """Whether a tuple is an item of an enum: an identifier, a name, a description."""
    texts = [isinstance(one, ast.Constant) and isinstance(one.value, str) for one in node.elts[:3]]
    return len(node.elts) >= 3 and texts[0] and texts[1] and not node.elts[1].value[:1].islower()


def _spec(node: ast.FormattedValue) -> str:
    if node.format_spec is None:
        return ""
    return "".join(str(getattr(part, "value", "9")) for part in node.format_spec.values)


def _slot(node: ast.AST, spec: str) -> Slot:
    name = _named(node)
    if (spec and NUMBER_SPEC.match(spec)) or _called(node) in COUNTING or name in COUNTS | SIZES:
        return Slot(name, "n")
    if _called(node) in WORDING or name in WORDS_ALL_THE_SAME:
        return Slot(name)
    named = isinstance(node, ast.Attribute) and node.attr == "name" and name not in NAMED_IN_WORDS
    if isinstance(node, ast.BoolOp) and isinstance(node.values[0], ast.Attribute):
        named = node.values[0].attr == "name"
    if _called(node) in LENGTHS:
        return Slot(name, "n")
    own = name in OWN or named or _called(node) in LISTS
    return Slot(name, "s" if own else "")


def _named(node: ast.AST) -> str:
    """A word for what is inserted, from its expression."""
    if isinstance(node, ast.Name):
        return node.id.strip("_")
    if isinstance(node, ast.Attribute):
        return _named(node.value) if node.attr == "name" else node.attr
    if isinstance(node, ast.Call):
        given = [one for one in node.args if not isinstance(one, ast.Constant) and _named(one) not in SURROUNDINGS]
        if given:
            return _named(given[0])
        return _named(node.func.value) if isinstance(node.func, ast.Attribute) else _called(node).strip("_")
    for field in ("left", "body", "elt", "operand", "value"):
        if isinstance(getattr(node, field, None), ast.expr):
            return _named(getattr(node, field))
    if isinstance(node, ast.BoolOp | ast.List):
        return _named((node.values if isinstance(node, ast.BoolOp) else node.elts)[0])
    return "value"


def _apart(parts: tuple[Part, ...]) -> Iterator[Part]:
    """The parts with each slot's name used once."""
    used: dict[str, int] = {}
    for part in parts:
        if isinstance(part, str):
            yield part
            continue
        used[part.name] = used.get(part.name, 0) + 1
        yield part if used[part.name] == 1 else replace(part, name=f"{part.name}{used[part.name]}")
