"""Why a message did not go. The text is stored and logged: it carries no address, name or message text."""


class Temporary(Exception):
    """It may go later: try again."""


class Permanent(Exception):
    """It will never go like this: somebody has to look."""
