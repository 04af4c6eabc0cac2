"""What every page takes from the pure floors."""

from farmbuild.planning.work.cautions import ALWAYS, Caution, cautions_of

__all__ = ["ALWAYS", "Caution", "cautions_of"]
