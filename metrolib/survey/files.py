"""Files: bytes of a survey folder <-> text, read and written so that nothing gets lost."""

import os
import secrets
import shutil
from contextlib import suppress
from pathlib import Path, PurePosixPath, PureWindowsPath

from metrolib.errors import Fault, SurveyError

#: Byte-order marks and what they announce; the mark stays in the text as its first character.
_MARKS = {b"\xef\xbb\xbf": "utf-8", b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}

#: What to do where a file is missing.
_MISSING = {
    ".toml": "check the folder's name, or make a folder with blank_survey",
    ".csv": 'save the readings there, or name their file in survey.toml: readings = "..."',
}


def decode(raw):
    """Return the text in `raw` and its encoding.

    UTF-8, UTF-16 with its byte-order mark, or else cp1252, as spreadsheets save.

    Examples
    --------
    >>> decode("5 µm".encode("cp1252"))
    ('5 µm', 'cp1252')
    """
    for mark, encoding in _MARKS.items():
        if raw.startswith(mark):
            return raw.decode(
                encoding, errors="surrogatepass" if "16" in encoding else "strict"
            ), encoding
    try:
        return raw.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return raw.decode("cp1252"), "cp1252"


def encode(text, encoding):
    """Return `text` as bytes; as marked UTF-8 where cp1252 has no room for a character."""
    try:
        return text.encode(encoding, errors="surrogatepass" if "16" in encoding else "strict")
    except UnicodeEncodeError:
        return ("\ufeff" + text.removeprefix("\ufeff")).encode("utf-8")


def read_file(path, name):
    """Return (text, encoding, None), or (None, None, fault)."""
    try:
        raw = path.read_bytes()
        text, encoding = decode(raw)
        if "\0" not in text:
            return text, encoding, None
    except FileNotFoundError:
        wrong = f"there is no such file in {str(path.parent)!r}"
        return None, None, Fault(name, None, wrong, _MISSING.get(path.suffix, _MISSING[".toml"]))
    except UnicodeDecodeError:
        pass
    except OSError as error:
        remedy = "check that it is a file and that you may read it"
        return None, None, Fault(name, None, f"it cannot be read ({error.strerror})", remedy)
    wrong, remedy = "this is no text in UTF-8 or marked UTF-16", "save it as text in UTF-8"
    if raw.startswith(b"PK"):
        wrong = "this is no text but a workbook, or another packed file"
        remedy = "save the sheet as CSV in UTF-8" if path.suffix == ".csv" else remedy
    return None, None, Fault(name, None, wrong, remedy)


def inside(folder, name):
    """Tell what is wrong with `name` as the name of a file inside `folder`; None if nothing.

    Parameters
    ----------
    folder : Path
    name : str

    Returns
    -------
    str or None
    """
    if not isinstance(name, str) or not name.strip():
        return f"{name!r} is no file name"
    if PurePosixPath(name).is_absolute() or PureWindowsPath(name).drive or "\\" in name:
        return f"{name!r} is no plain name inside the folder"
    if ".." in PurePosixPath(name).parts:
        return f"{name!r} points outside the folder"
    try:
        if not (folder / name).resolve().is_relative_to(folder.resolve()):
            return f"{name!r} is a link that points outside the folder"
    except (OSError, RuntimeError, ValueError):
        return f"{name!r} leads nowhere"
    return None


def write_files(folder, contents, last_look=None):
    """Write files into a folder, each at one stroke: all are ready before the first is replaced.

    Parameters
    ----------
    folder : Path
        Made if it does not exist.
    contents : dict of str to bytes
        Replaced in this order.
    last_look : callable, optional
        Called without arguments when all is ready; where it raises, nothing is replaced.

    Raises
    ------
    SurveyError
        If the folder or a file cannot be written. Before the first file is replaced everything
        is on the disk already, so a full disk or a locked folder leaves all old files as they were.
    """
    ready = {}
    name = str(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, raw in contents.items():
            ready[folder / name] = _write_beside(folder / name, raw)
        if last_look is not None:
            last_look()
        for path, part in ready.items():
            name = path.name
            os.replace(part, path)
        _flush_folder(folder)
    except OSError as error:
        remedy = (
            "make the folder writable, close the file in other programs, or write to another folder"
        )
        fault = Fault(name, None, f"it cannot be written ({error.strerror or error})", remedy)
        raise SurveyError([fault]) from error
    finally:
        for part in ready.values():
            with suppress(OSError):
                part.unlink(missing_ok=True)


def _write_beside(path, raw):
    """Write `raw` into a new file beside `path` and return that file's path."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with open(part, "xb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            shutil.copymode(path, part)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    return part


def _flush_folder(folder):
    """Make the renaming last through a power cut, where the system lets folders be flushed."""
    with suppress(OSError):
        handle = os.open(Path(folder), os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
