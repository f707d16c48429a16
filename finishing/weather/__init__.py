"""The outside air, one file a source, the same verbs: get_… (network), read_… (file), parse_… (text → hours)."""


class WeatherUnavailable(Exception):
    """A source gave no weather; `reason` says why in words that may be shown to a person."""

    def __init__(self, reason: str):
        super().__init__(reason)
        self.reason = reason
