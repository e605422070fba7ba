-- How many visits each batch holds, and on which lines: by these they are cut into slices.
-- Row: one batch with a visit.
-- Key: batch.
-- Grain: rows of visits fold, superseded versions included.
SELECT batch, COUNT(*) AS row_count, MAX(line) AS last_line
FROM visits
GROUP BY batch
ORDER BY batch
