"""How exactly ticks and blows are heard on the annotated recordings; measures, never gates."""

from __future__ import annotations

import importlib
import importlib.util


def main() -> None:
    """Print both tables; each can be run alone."""
    for name in ("accuracy_ticks", "accuracy_blows"):
        if importlib.util.find_spec(name) is not None:
            print(f"# {name.removeprefix('accuracy_')}")
            importlib.import_module(name).main()


if __name__ == "__main__":
    main()
