"""A job as it stands, read anew only once its file was written anew: pages ask for it several times a second."""

from wainscribe.folder import JobFolder
from wainscribe.job import Job

Written = tuple[int, int, int]  # a file by inode, size [bytes] and time of its last change [ns]


class Latest:
    """One job, as it was read last."""

    def __init__(self, folder: JobFolder) -> None:
        self._folder = folder
        self._read: tuple[Written | None, tuple[int, Job]] | None = None

    def state(self) -> tuple[int, Job]:
        """As `JobFolder.state`: the number of the state, and the job.

        Raises
        ------
        JobError
            There is no job, or it cannot be read.
        """
        written, known = self._written(), self._read  # before it is read: what is written after is seen next time
        if known is None or written is None or known[0] != written:
            known = self._read = written, self._folder.state()
        return known[1]

    def _written(self) -> Written | None:
        try:
            stat = self._folder.file.stat()
        except OSError:
            return None
        return stat.st_ino, stat.st_size, stat.st_mtime_ns
