"""What do I see? Pages; thin, with no arithmetic."""

from quarterjack.web.app import create_app
from quarterjack.web.serve import serve

__all__ = ["create_app", "serve"]
