"""Style, script and marks under names that change with what is in them, so that a browser keeps them for good."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStaticFiles(CompressedManifestStaticFilesStorage):
    """Collected and compressed by `serve` and `demo` as they start.

    Before that, as in tests and under another server, each is found where it lies, by its own name.
    """

    manifest_strict = False

    def stored_name(self, name: str) -> str:
        return super().stored_name(name) if self.hashed_files else name
