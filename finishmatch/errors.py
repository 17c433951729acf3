"""The one error a person at the bench is meant to read: what is wrong, where, and the mend."""


class InputError(ValueError):
    """What was given can't be used.

    Parameters
    ----------
    where : str
        The file, line and column, or the parameter, that is wrong; "" when there is none to name.
    what : str
        What is wrong with it, in the painter's words.
    mend : str
        What to do about it, or "".

    Notes
    -----
    ``str(error)`` is one line, "where: what; mend", whatever the parts contain. A parameter is named in backticks, as
    "`max_tints`"; a face that knows it by another name, such as an option, shows that one.
    """

    def __init__(self, where: str, what: str, mend: str = "") -> None:
        self.where = where
        self.what = what
        self.mend = mend
        text = f"{where}: {what}" if where else what
        super().__init__(" ".join((f"{text}; {mend}" if mend else text).split()))
