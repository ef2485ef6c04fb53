"""Compiled kernels as they are kept on the disk: machine code alone, soon fetched.

The compiler would keep with each kernel its code in the form that other kernels could take in, and before it
fetches one it makes ready for compiling. Kernels that Python alone calls need neither.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar

import llvmlite.binding as llvm
import numba
from numba.core.caching import CompileResultCacheImpl, FunctionCache, IndexDataCacheFile, _CacheLocator
from numba.core.runtime.nrt import rtsys

from lightsim.tracer.kernel_folder import read_sealed, write_sealed

TAKEN_IN = "object"  # the kind of stored code that comes with a form that other kernels take in


class _OneFolder(_CacheLocator):
    """All code in one folder, wherever the sources lie: its name carries their digest, so that
    copies of the same sources share it."""

    def __init__(self, line: int):
        self._line = line

    @classmethod
    def from_function(cls, py_func: Callable[..., Any], py_file: str) -> _OneFolder:
        """The place of one kernel's code."""
        return cls(py_func.__code__.co_firstlineno)

    def get_cache_path(self) -> str:
        """The folder."""
        return str(numba.config.CACHE_DIR)  # type: ignore[attr-defined]

    def ensure_cache_path(self) -> None:
        """Nothing: the folder was made when it was chosen."""

    def get_source_stamp(self) -> str:
        """Nothing: other sources have another folder."""
        return ""

    def get_disambiguator(self) -> str:
        """What tells kernels of one name in one file apart."""
        return str(self._line)


class _MachineCode(CompileResultCacheImpl):
    _locator_classes: ClassVar[list[Any]] = [_OneFolder]  # type: ignore[misc]

    def reduce(self, result: Any) -> tuple[Any, ...]:
        """What is stored: of the form for other kernels only the names that are looked up by name."""
        library, *rest = super().reduce(result)
        name, kind, data = library
        if kind == TAKEN_IN:
            machine_code, form = data
            data = machine_code, _names_alone(form, _looked_up(result))
        return ((name, kind, data), *rest)


def _looked_up(result: Any) -> set[str]:
    it = result.fndesc
    names = {it.llvm_func_name, it.llvm_cpython_wrapper_name, it.llvm_cfunc_wrapper_name, it.env_name}
    return names | {one.env_name for one in result._find_referenced_environments()}


def _names_alone(form: bytes, names: set[str]) -> bytes:
    """A module that defines those of the names that the form does, as nothing."""
    module = llvm.parse_bitcode(form)
    defined = {one.name for of in (module.functions, module.global_variables) for one in of}
    lines = [f'@"{name}" = global i8 0' for name in sorted(names & defined)]
    return llvm.parse_assembly("\n".join(lines)).as_bitcode()


class _SealedFiles(IndexDataCacheFile):
    """One kernel's index and code, each checked before anything is made of it."""

    def _load_index(self) -> dict[Any, str]:
        content = read_sealed(Path(self._index_path))
        if content is None:
            return {}
        version, overloads = pickle.loads(content)
        return overloads if version == self._version else {}

    def _save_index(self, overloads: dict[Any, str]) -> None:
        write_sealed(Path(self._index_path), self._dump((self._version, overloads)))

    def _load_data(self, name: str) -> Any:
        content = read_sealed(Path(self._data_path(name)))
        return None if content is None else pickle.loads(content)

    def _save_data(self, name: str, data: Any) -> None:
        write_sealed(Path(self._data_path(name)), self._dump(data))


class MachineCode(FunctionCache):
    """Where one kernel's compiled code is kept."""

    _impl_class = _MachineCode

    def __init__(self, function: Callable[..., Any]):
        super().__init__(function)
        locator = self._impl.locator
        self._cache_file = _SealedFiles(
            locator.get_cache_path(), self._impl.filename_base, locator.get_source_stamp()
        )

    def load_overload(self, signature: Any, context: Any) -> Any:
        """The kernel for arguments of these types, None where it is not kept yet."""
        rtsys.initialize(context)
        with self._guard_against_spurious_io_errors():
            return self._load_overload(signature, context)


def store(kernel: Any, function: Callable[..., Any]) -> None:
    """Keep a kernel's code that Python alone calls."""
    kernel._cache = MachineCode(function)
