"""Everything that is written: tables, the plan for programs, drawings and the field sheet, whole or not at all."""

from spadework.write.folder import check_folder, write_folder
from spadework.write.results import plan_files, write_plan

__all__ = ["check_folder", "plan_files", "write_folder", "write_plan"]
