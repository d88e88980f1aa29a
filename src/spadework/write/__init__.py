"""Everything that is written: tables, the plan for programs, drawings and the field sheet, whole or not at all."""
