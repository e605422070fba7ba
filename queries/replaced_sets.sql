-- Cases whose findings several exports have.
-- Row: one case of whose findings only those of its last export count.
-- Key: source, case_id.
-- Grain: the findings of a case are a set, replaced as a whole by the newest export (export day, then batch) that has any
--   of them: the key of a finding may hold its cause, and a corrected cause is then another record. A case that ever had a finding
--   in quarantine is left out, and keeps the records of all its exports: a repaired record comes alone, in a batch of its own.
-- Order: none, written to a file whose readers join it.
WITH several AS (
    SELECT source, case_id
    FROM findings
    GROUP BY source, case_id
    HAVING MIN(batch) < MAX(batch)
),
rivals AS (
    SELECT f.source, f.case_id, f.record, f.export_date, f.batch
    FROM findings AS f
    JOIN several AS s ON f.source = s.source AND f.case_id = s.case_id
),
in_quarantine AS (
    SELECT source, record AS held
    FROM quarantine
    WHERE target = 'findings'
    UNION
    SELECT source, SPLIT_PART(record, '/', 1) AS held
    FROM quarantine
    WHERE target = 'findings'
),
held_back AS (
    SELECT source, case_id, MAX(in_parts) AS in_parts
    FROM (
        SELECT f.source, f.case_id, 1 AS in_parts
        FROM rivals AS f
        JOIN in_quarantine AS q ON f.source = q.source AND f.case_id = q.held
        UNION ALL
        SELECT f.source, f.case_id, 1 AS in_parts
        FROM rivals AS f
        JOIN in_quarantine AS q ON f.source = q.source AND f.record = q.held
    ) AS either
    GROUP BY source, case_id
),
last_exports AS (
    SELECT DISTINCT ON (source, case_id) source, case_id, export_date, batch AS last_batch
    FROM rivals
    ORDER BY source, case_id, export_date DESC NULLS LAST, last_batch DESC
)
SELECT e.source, e.case_id, e.last_batch
FROM last_exports AS e
LEFT JOIN held_back AS h ON e.source = h.source AND e.case_id = h.case_id
WHERE h.in_parts IS NULL
