"""What a check says: lines, and the exit status that they make."""

from forms import Refused


class Report:
    def __init__(self):
        self.lines = []
        self._unreadable = self._untrusted = self._unlogged = False

    def unreadable(self, text):
        self._unreadable = True
        self.lines.append(f"cannot be checked: {text}")

    def untrusted(self):
        self._untrusted = True

    def unlogged(self):
        self._unlogged = True

    def fail(self, check, text):
        self.lines.append(f"{check}. FAILED: {text}")

    def read(self, check, what):
        """What is read; None, and a line, where it is refused."""
        try:
            return what()
        except (Refused, UnicodeError) as refused:
            self.fail(check, str(refused))
            return None

    def check(self, check, what):
        self.read(check, what)

    def exit(self):
        if self._unreadable:
            return 2
        if self.lines:
            return 1
        if self._untrusted:
            return 3
        return 4 if self._unlogged else 0
