-- Entries of the quarantine, with whether a later batch holds the same record in the table it was meant for.
-- Row: one field of one record that could not be used.
-- Key: source, file, batch, line, target, field, reason.
-- Grain: one per failed field of a record.
WITH held AS (
    SELECT source, record, 'visits' AS target, batch AS held_batch FROM visits
    UNION ALL
    SELECT source, record, 'cases' AS target, batch AS held_batch FROM cases
    UNION ALL
    SELECT source, record, 'findings' AS target, batch AS held_batch FROM findings
    UNION ALL
    SELECT source, record, 'tests' AS target, batch AS held_batch FROM tests
),
repaired AS (
    SELECT DISTINCT bad.source, bad.record, bad.target, bad.batch, 1 AS is_repaired
    FROM quarantine AS bad
    JOIN held ON bad.source = held.source AND bad.record = held.record AND bad.target = held.target
    WHERE held.held_batch > bad.batch
)
SELECT bad.source, bad.file, bad.line, bad.target, bad.record, bad.field, bad.reason, bad.value, bad.hint, bad.raw, bad.batch,
       COALESCE(repaired.is_repaired, 0) AS is_repaired
FROM quarantine AS bad
LEFT JOIN repaired ON bad.source = repaired.source AND bad.record = repaired.record
     AND bad.target = repaired.target AND bad.batch = repaired.batch
WHERE (:any_reason OR bad.reason IN (:reasons))
  AND (:any_file OR bad.file IN (:files))
  AND (:with_repaired OR repaired.is_repaired IS NULL)
ORDER BY bad.source, bad.file, bad.batch, bad.line, bad.target, bad.field NULLS LAST, bad.reason, bad.value NULLS LAST
