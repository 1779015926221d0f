"""The text of a car file: values in TOML, and a commented file to start from, made from the declarations."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import cast

import numpy as np

from fuelsim.declaration import Declaration, file_keys
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Ratings
from fuelsim.kinds import KINDS
from fuelsim.typing import FloatArray, Given

__all__ = [
    "REFERENCE_KEY",
    "References",
    "no_references",
    "runs_text",
    "starter_text",
    "toml_value",
    "value_with_unit",
]

WIDTH, COMMENT_COLUMN = 120, 34
REFERENCE_KEY = "catalogue"
"""The key with which a table of a file takes its ratings from a generic part."""
REFERENCE_DOC = "Generic part whose ratings hold where no key is given."
EXAMPLE_RUNS = (("tank", "strainer", "pump", "filter", "feed", "rail", "rail_regulator", "return_line", "tank"),)
"""Runs that use nothing but tables every car has, and those of a return: the example of a plumbing."""
References = Callable[[type], Sequence[str]]
"""Returns the names of the generic parts that a class of ratings may refer to, empty where there are none."""


def no_references(part: type) -> Sequence[str]:
    """Return no names: the `References` of files that cannot refer to generic parts.

    Parameters
    ----------
    part : type
        A class of ratings.

    Returns
    -------
    sequence of str
        Empty.

    Examples
    --------
    >>> from fuelsim.parts.line import Line
    >>> no_references(Line)
    ()
    """
    return ()


def toml_value(value: Given) -> str:
    """Return a text, number, truth value or list of these as it stands in a TOML file.

    Parameters
    ----------
    value : str, bool, int, float or list of these
        What to write.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For a value that TOML has no form for.

    Examples
    --------
    >>> toml_value("5/16\\""), toml_value([1, 2.5, "8 mm"]), toml_value(True)
    ('"5/16\\\\""', '[1, 2.5, "8 mm"]', 'true')
    """
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, (bool, np.bool_)):
        return "true" if value else "false"
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return repr(float(value))
    if isinstance(value, (list, tuple, np.ndarray)):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    raise InputError("not a value of a TOML file", given=value, accepted="text, number, true or false, or a list")


def runs_text(key: str, runs: Iterable[Sequence[str]]) -> list[str]:
    """Return runs of names as they stand in a TOML file, one a line.

    Parameters
    ----------
    key : str
        Key before the equals sign.
    runs : iterable of sequence of str
        Runs of a plumbing.

    Returns
    -------
    list of str
        Lines.

    Examples
    --------
    >>> print("\\n".join(runs_text("runs", [["tank", "pump", "tee"], ["tee", "rail"]])))
    runs = [
        ["tank", "pump", "tee"],
        ["tee", "rail"],
    ]
    """
    return [f"{key} = [", *(f"    {toml_value(run)}," for run in runs), "]"]


def starter_text(
    part: type[Ratings],
    values: Mapping[str, Given] | None = None,
    *,
    heading: str = "",
    references: References = no_references,
    every_key: bool = True,
) -> str:
    """Return a commented TOML file with every key of a class of ratings, its meaning, range and default.

    Keys that must be given stand with their example, all others are commented out with their default. The meaning of a
    class's keys is written once, where the class is first used. A short file has the former only, and the names of the
    others.

    Parameters
    ----------
    part : type
        A class of ratings; its tables become tables of the file.
    values : mapping, optional
        Dotted keys and values to write in place of example or default; a table is written where one of its keys is.
    heading : str, optional
        Comment at the top of the file.
    references : callable, optional
        Which generic parts a table may refer to.
    every_key : bool
        Whether keys that are commented out are written; else only their names are.

    Returns
    -------
    str
        TOML.

    Raises
    ------
    InputError
        For a key that the class does not know, with the nearest one.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> from fuelsim.fields import Quantity, quantity
    >>> @dataclass(frozen=True)
    ... class Hose(Ratings):
    ...     bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")
    ...     length: Quantity = quantity("length", "Length.", least=0.0, most=50.0, default=1.0)
    >>> print(starter_text(Hose, heading="A hose."))
    # A hose.
    <BLANKLINE>
    bore = "8 mm"                     # Inside diameter. Must be given. (0.5 mm to 100 mm)
    # length = "1 m"                  # Length. (0 m to 50 m)
    <BLANKLINE>
    """
    writer = _Starter(dict(values or {}), references, every_key)
    for key in writer.values:
        writer.check_key(part, key)
    lines = [each for paragraph in heading.splitlines() for each in _comment(paragraph)]
    lines += [""] if heading else []
    lines += writer.table(part, "", None, live=True)
    if not every_key:
        lines += writer.tables_left_out()
    return "\n".join(lines).rstrip("\n") + ("\n\n" if every_key else "\n")


@dataclass
class _Starter:
    """Writes the lines of a starter file, and remembers which classes it has explained."""

    values: Mapping[str, Given]
    references: References
    every_key: bool = True
    explained: set[type] = field(default_factory=set)
    left_out: list[tuple[str, str]] = field(default_factory=list)
    """Tables that are not written in a short file, each with its meaning."""

    def check_key(self, part: type, key: str) -> None:
        """Raise InputError for a dotted key that leads to no value of a class of ratings."""
        *tables, last = key.split(".")
        while tables:
            name = tables.pop(0)
            declaration = file_keys(part).get(name)
            below = None if declaration is None else declaration.part
            if declaration is not None and declaration.member is not None and tables:
                below = declaration.member
                tables.pop(0)
            if below is None:
                raise InputError("unknown key", accepted=nearest(name, file_keys(part)), key=key)
            part = below
        known = file_keys(part)
        if last == REFERENCE_KEY and self.references(part):
            return
        if last not in known or known[last].part is not None or known[last].member is not None:
            raise InputError("unknown key", accepted=nearest(last, known), key=key)

    def table(self, part: type, prefix: str, instance: object, live: bool) -> list[str]:
        """Return the lines of a table without its head, and of the tables below it.

        The defaults are those of an instance if there is one, else of the class; a table that is not live is commented
        out.
        """
        known = file_keys(part)
        lines = self._reference(part, prefix)
        referred = f"{prefix}{REFERENCE_KEY}" in self.values
        more = []
        for name, declaration in known.items():
            if declaration.part is not None or declaration.member is not None:
                continue
            its_lines = self._key(declaration, prefix + name, instance, live, referred, part not in self.explained)
            if self.every_key or not its_lines[-1].startswith("#"):
                lines += its_lines
            else:
                more.append(name)
        if more and part not in self.explained:
            lines += _comment("Further keys: " + ", ".join(more) + ".")
        self.explained.add(part)
        lines += [""]
        for name, declaration in known.items():
            key = prefix + name
            if declaration.member is not None:
                lines += self._named(declaration, declaration.member, key)
            if declaration.part is None:
                continue
            below = getattr(instance, name) if instance is not None else declaration.default
            needed = declaration.required_beside(dict.fromkeys(self._below(prefix), True))
            written = live and (needed or bool(self._below(f"{key}.")))
            if not written and not self.every_key:
                self.left_out.append((f"[{key}]", declaration.doc))
                continue
            about = declaration.doc + ("" if written else " Left out unless the comment signs are removed.")
            lines += [*_comment(about), f"[{key}]" if written else f"# [{key}]"]
            lines += self.table(declaration.part, f"{key}.", below, written)
        return lines

    def tables_left_out(self) -> list[str]:
        """Return the tables that a short file leaves out, as comments."""
        if not self.left_out:
            return []
        told = [_comment(f"{table} {about}") for table, about in self.left_out]
        return ["# Further tables:", *(line for each in told for line in each)]

    def _below(self, prefix: str) -> list[str]:
        """Return the first keys below a table for which there are values."""
        return list(
            dict.fromkeys(key[len(prefix) :].partition(".")[0] for key in self.values if key.startswith(prefix))
        )

    def _named(self, declaration: Declaration, part: type, key: str) -> list[str]:
        """Return the named tables of one kind for which there are values, else a short one as an example."""
        names = self._below(f"{key}.")
        if not names and not self.every_key:
            self.left_out.append((f"[{key}.{declaration.example}]", declaration.doc))
            return []
        lines = _comment(declaration.doc + ("" if names else " Left out unless the comment signs are removed."))
        sign = "" if names else "# "
        for name in names or [declaration.example]:
            written = [f"[{key}.{name}]", *self._short(part, f"{key}.{name}.")]
            lines += [*(f"{sign}{line}" for line in written), ""]
        return lines

    def _short(self, part: type, prefix: str) -> list[str]:
        """Return the keys of a named table that must be given or for which there are values, without comments."""
        known, given = file_keys(part), self._below(prefix)
        reference = self.values.get(f"{prefix}{REFERENCE_KEY}")
        if not given and self.references(part):
            reference = self.references(part)[0]
        lines = [] if reference is None else [f"{REFERENCE_KEY} = {toml_value(reference)}"]
        for name, declaration in known.items():
            # A list is a table of a bench or a curve, which a generic part has.
            needed = declaration.required and not (reference is not None and (given or declaration.form == "series"))
            if name in given:
                value = self.values[f"{prefix}{name}"]
                if declaration.form == "runs":
                    lines += runs_text(name, cast("Iterable[Sequence[str]]", value))
                else:
                    lines.append(f"{name} = {toml_value(value)}")
            elif needed:
                lines.append(f"{name} = {_example(declaration)}")
        if not lines:
            shown = getattr(part, "starter_keys", None) or (next(iter(known)),)
            lines = [f"{name} = {_example(known[name])}" for name in shown]
        return lines

    def _reference(self, part: type, prefix: str) -> list[str]:
        names = self.references(part)
        key = f"{prefix}{REFERENCE_KEY}"
        if not names or not (self.every_key or key in self.values):
            return []
        written = f"{REFERENCE_KEY} = {toml_value(self.values.get(key, names[0]))}"
        return _line(
            written if key in self.values else f"# {written}", REFERENCE_DOC if part not in self.explained else ""
        )

    def _key(
        self, declaration: Declaration, key: str, instance: object, live: bool, referred: bool, explain: bool
    ) -> list[str]:
        default = getattr(instance, declaration.name) if instance is not None else declaration.default
        given = instance is not None or not declaration.required
        if key in self.values:
            value = toml_value(self.values[key])
        elif given and default is not None and declaration.form != "quantities":
            value = _default(declaration, default)
        else:
            value = _example(declaration)
        must = not given and not referred
        sign = "" if live and (key in self.values or must) else "# "
        about = declaration.doc + (" Must be given." if must else "") + _range(declaration) if explain else ""
        return _line(f"{sign}{declaration.name} = {value}", about)


def _line(written: str, about: str) -> list[str]:
    """Return a key with its comment behind it, or above it where the line would be too long."""
    if not about:
        return [written]
    line = f"{written:<{COMMENT_COLUMN}}# {about}"
    return [line] if len(line) <= WIDTH and len(written) < COMMENT_COLUMN else [*_comment(about), written]


def _range(declaration: Declaration) -> str:
    """Return what is accepted in brackets, as short as a comment wants it."""
    if declaration.form in ("quantity", "series"):
        low, high = (declaration.bound(limit) for limit in (declaration.least, declaration.most))
        return f" ({low} to {high})" if low and high else ""
    return f" ({declaration.accepted()})" if declaration.form in ("choice", "count", "flag") else ""


def _default(declaration: Declaration, default: Given) -> str:
    return toml_value(value_with_unit(declaration, default) if declaration.form in ("quantity", "series") else default)


def value_with_unit(declaration: Declaration, value: Given) -> float | str | list[object]:
    """Return an SI value as a file holds it: text with its unit, a number where there is none, a list of these.

    Parameters
    ----------
    declaration : Declaration
        Declaration of a quantity or series.
    value : float, str or array
        Value in SI; text is returned as it is.

    Returns
    -------
    float, str or list of these

    Examples
    --------
    >>> value_with_unit(Declaration("quantity", "Inside diameter.", kind="bore"), [0.006, 0.008])
    ['6 mm', '8 mm']
    """
    if isinstance(value, str):
        return value
    numbers: FloatArray = np.asarray(value, dtype=float)
    if numbers.ndim:
        return [value_with_unit(declaration, float(number)) for number in numbers]
    if KINDS[declaration.kind].unit == "1":
        return float(numbers)
    return declaration.bound(float(numbers))


def _example(declaration: Declaration) -> str:
    if declaration.form == "runs":
        return toml_value(EXAMPLE_RUNS)
    if declaration.form == "quantities":
        return f"{{ front = {toml_value(declaration.example)} }}"
    if declaration.form == "series":
        return declaration.example if declaration.example.startswith("[") else toml_value([declaration.example])
    if declaration.form == "count":
        return declaration.example or f"{declaration.least:g}"
    if declaration.form == "choice":
        return toml_value(declaration.choices[0])
    if declaration.form == "flag":
        return "true"
    if declaration.form == "quantity" and not declaration.example:
        return toml_value(declaration.bound(declaration.least) or "?")
    return toml_value(declaration.example)


def _comment(text: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(text, WIDTH - 2)]
