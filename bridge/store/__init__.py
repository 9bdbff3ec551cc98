"""The disk: files that are whole or not there, and locks that end with their process. Thin."""

from bridge.store.atomic import write_atomically
from bridge.store.lock import HeldError, Lock, state_folder
from bridge.store.shipped import shipped

__all__ = ["HeldError", "Lock", "shipped", "state_folder", "write_atomically"]
