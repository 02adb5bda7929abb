"""Reading a TOML file, with one line for whatever is wrong with it."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput

_INTEGERS: Final = 2**63


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file as a dict; BadInput says what is wrong and where."""
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8-sig"))
        _check_integers(document, str(path))
    except FileNotFoundError:
        beside = [other.name for other in path.parent.glob("*.toml")] if path.parent.is_dir() else []
        near = difflib.get_close_matches(path.name, beside, n=1)
        raise BadInput(path, "expected a TOML file, found no file" + (f"; did you mean {near[0]!r}?" if near else "")) from None
    except OSError as error:
        raise BadInput(path, f"can't be read: {error.strerror or error}") from None
    except UnicodeDecodeError:
        raise BadInput(path, "expected UTF-8 text") from None
    except RecursionError:
        raise BadInput(path, "is not valid TOML: too many brackets within each other") from None
    except ValueError as error:  # TOMLDecodeError, or a number of thousands of digits
        raise BadInput(path, f"is not valid TOML: {error}") from None
    return document


def _check_integers(value: Any, file: str, place: str = "") -> None:
    """An integer beyond 64 bits, which TOML doesn't have and no float may hold, is BadInput."""
    if isinstance(value, int) and not -_INTEGERS <= value < _INTEGERS:
        raise BadInput(f"{file}: {place}", "expected a number of 64 bits, came an integer of more")
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, entry in inside:
        _check_integers(entry, file, f"{place}[{key}]" if isinstance(value, list) else f"{place}.{key}".removeprefix("."))


def optional_table(document: Mapping[str, Any], key: str, path: Path, problems: list[BadInput]) -> dict[str, Any]:
    """A table of a document, empty where it isn't there; what stands there and is no table is added to `problems`."""
    table = document.get(key, {})
    if isinstance(table, dict):
        return table
    problems.append(BadInput(f"{path}: {key}", f"expected a table [{key}], came {table!r}"))
    return {}
