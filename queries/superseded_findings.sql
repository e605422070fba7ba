-- Rows of findings that count no more.
-- Row: one finding that a newer export replaced, alone or with the set it belonged to, by where its row stands.
-- Key: batch, line, digest.
-- Grain: findings of exports before the last of their case (replaced_sets), and of the rest all versions of a record but the newest
--   (as in superseded_rows).
-- Order: none, written to a file whose readers join it.
WITH of_old_sets AS (
    SELECT f.batch, f.line, f.digest, 1 AS is_old
    FROM findings AS f
    JOIN replaced_sets AS e ON f.source = e.source AND f.case_id = e.case_id
    WHERE f.batch <> e.last_batch
),
rivals AS (
    SELECT r.source, r.record, r.export_date, r.batch, r.line, r.digest
    FROM repeated_versions AS r
    LEFT JOIN of_old_sets AS o ON r.batch = o.batch AND r.line = o.line AND r.digest = o.digest
    WHERE r.target = 'findings' AND o.is_old IS NULL
),
newest AS (
    SELECT DISTINCT ON (source, record) source, record, export_date, batch, line, digest
    FROM rivals
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
),
standing AS (
    SELECT batch, line, digest, 1 AS is_newest
    FROM newest
),
older AS (
    SELECT r.batch, r.line, r.digest
    FROM rivals AS r
    LEFT JOIN standing AS s ON r.batch = s.batch AND r.line = s.line AND r.digest = s.digest
    WHERE s.is_newest IS NULL
)
SELECT DISTINCT batch, line, digest
FROM (
    SELECT batch, line, digest FROM of_old_sets
    UNION ALL
    SELECT batch, line, digest FROM older
) AS either
