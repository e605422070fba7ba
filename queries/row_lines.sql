-- How many rows each batch holds, and on which lines: by these they are cut into slices.
-- Row: one batch with a visit, a case or a finding.
-- Key: batch.
-- Grain: rows fold, superseded versions included.
WITH every_row AS (
    SELECT batch, line FROM visits
    UNION ALL
    SELECT batch, line FROM cases
    UNION ALL
    SELECT batch, line FROM findings
)
SELECT batch, COUNT(*) AS row_count, MAX(line) AS last_line
FROM every_row
GROUP BY batch
ORDER BY batch
