"""The handbook and the reference as a site: Sphinx with MyST and furo, all from this machine."""

from __future__ import annotations

import shutil
import tempfile
import warnings
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path

from contactread import __version__
from contactread.errors import ContactreadError, MissingExtraError
from contactread.handbook.pages import HANDBOOK, PAGES, filled, load_page
from contactread.handbook.pictures import pictures
from contactread.handbook.schemas import SCHEMAS, schema_text

_SETTINGS = {
    "project": "contactread",
    "release": __version__,
    "version": __version__,
    "extensions": ["myst_parser"],
    "html_theme": "furo",
    "html_title": f"contactread {__version__}",
    "html_copy_source": False,
    "html_show_sphinx": False,
    "myst_heading_anchors": 3,
    "language": "en",
    "exclude_patterns": [],
    # furo's only picture from outside would be a link to its own page.
    "html_theme_options": {"source_repository": "", "footer_icons": []},
}


def build(folder: Path, reference: Mapping[str, str]) -> None:
    """Write the site into a new or empty folder. reference: Markdown of further pages, by name.

    Raises `ContactreadError` site-folder, site-failed; `MissingExtraError` without the extra docs.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ContactreadError(
            "site-folder", f"'{folder}' holds something already; it was left as it is.", "Name a new folder."
        )
    try:
        for name in ("furo", "myst_parser"):
            import_module(name)
        from sphinx.application import Sphinx
    except ImportError as error:
        raise MissingExtraError("docs", "Building the site") from error
    with tempfile.TemporaryDirectory() as place:
        source, trees = Path(place) / "source", Path(place) / "trees"
        write_source(source, reference)
        notes = (Path(place) / "notes").open("w+", encoding="utf-8")
        with notes, warnings.catch_warnings():
            warnings.simplefilter(
                "ignore"
            )  # of libraries about each other; faults of pages go into the notes
            app = Sphinx(
                source, None, folder, trees, "html", confoverrides=_SETTINGS, status=None, warning=notes
            )
            app.build()
            notes.seek(0)
            faults = notes.read().strip()
    if app.statuscode or faults:
        raise ContactreadError("site-failed", f"The site has faults: {faults}", "Please report it.")


def write_source(source: Path, reference: Mapping[str, str]) -> None:
    """Every page as plain Markdown with its pictures and schemas beside it, as Sphinx takes it."""
    (source / "pictures").mkdir(parents=True)
    for name, picture in pictures().items():
        (source / "pictures" / f"{name}.svg").write_text(picture.drawing().svg(), encoding="utf-8")
    shutil.copy(HANDBOOK / "answer.jpg", source)

    def place(picture: str, caption: str) -> str:
        words = caption.partition(" (`")[0]
        return f"![{words}](pictures/{picture}.svg)\n\n*{caption}*"

    for name in PAGES:
        text = filled(load_page(name), place)
        if name == "index":
            text += _contents("The handbook", PAGES[1:]) + _contents("Reference", tuple(reference))
        (source / f"{name}.md").write_text(text, encoding="utf-8")
    for name, text in reference.items():
        (source / f"{name}.md").write_text(text, encoding="utf-8")
    (source / "_static").mkdir()
    for name in SCHEMAS:
        (source / f"{name}.json").write_text(schema_text(name), encoding="utf-8")


def _contents(caption: str, names: tuple[str, ...]) -> str:
    return f"\n\n```{{toctree}}\n:hidden:\n:caption: {caption}\n\n" + "\n".join(names) + "\n```\n"
