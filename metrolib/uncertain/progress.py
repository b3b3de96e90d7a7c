"""A progress bar that shows itself only where the user would wait."""

import time

# Seconds after which a bar appears.
_PATIENCE = 1.0


class Progress:
    """Counts what is done, and shows a bar once a second has passed.

    Parameters
    ----------
    what : str
        What is counted.
    total : int or None
        How many there will be; None where nobody knows.
    shown : bool or None
        False for never; None for the rule above.
    """

    def __init__(self, what, total=None, shown=None):
        self.what, self.total, self.shown = what, total, shown
        self.started, self.bar = time.perf_counter(), None

    def __enter__(self):
        return self

    def reach(self, done):
        """Tell how many are done by now."""
        if self.shown is False:
            return
        if self.bar is None:
            if time.perf_counter() - self.started < _PATIENCE:
                return
            from tqdm.auto import tqdm

            self.bar = tqdm(total=self.total, unit=f" {self.what}", unit_scale=True, leave=False)
        self.bar.update(done - self.bar.n)

    def __exit__(self, *error):
        if self.bar is not None:
            self.bar.close()
