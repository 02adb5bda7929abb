"""Reading a TOML file, with one line for whatever is wrong with it."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dualduty.errors import BadInput


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file as a dict; BadInput says what is wrong and where."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        beside = [other.name for other in path.parent.glob("*.toml")] if path.parent.is_dir() else []
        near = difflib.get_close_matches(path.name, beside, n=1)
        raise BadInput(path, "expected a TOML file, found no file" + (f"; did you mean {near[0]!r}?" if near else "")) from None
    except OSError as error:
        raise BadInput(path, f"can't be read: {error.strerror or error}") from None
    except UnicodeDecodeError:
        raise BadInput(path, "expected UTF-8 text") from None
    except tomllib.TOMLDecodeError as error:
        raise BadInput(path, f"is not valid TOML: {error}") from None


def optional_table(document: Mapping[str, Any], key: str, path: Path, problems: list[BadInput]) -> dict[str, Any]:
    """A table of a document, empty where it isn't there; what stands there and is no table is added to `problems`."""
    table = document.get(key, {})
    if isinstance(table, dict):
        return table
    problems.append(BadInput(f"{path}: {key}", f"expected a table [{key}], came {table!r}"))
    return {}
