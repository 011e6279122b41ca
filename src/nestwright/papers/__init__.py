"""Papers: care sheet, labels, calendar, dossier; each made from results and the record, computing nothing itself."""
