-- Records of a new batch all of whose rows are duplicates (as `duplicate_rows` found them), without those that are partly in
-- quarantine.
-- Row: the counts of such records.
-- Key: none.
-- Grain: one row.
WITH repeated AS (
    SELECT line, COUNT(*) AS repeats FROM duplicate_rows GROUP BY line
),
fresh AS (
    SELECT line, flags FROM new_visits
    UNION ALL
    SELECT line, flags FROM new_cases
    UNION ALL
    SELECT line, flags FROM new_findings
    UNION ALL
    SELECT line, flags FROM new_tests
),
records AS (
    SELECT fresh.line,
           COUNT(*) AS row_count,
           MAX(CASE WHEN fresh.flags IS NULL THEN 0 ELSE 1 END) AS is_flagged,
           MAX(CASE WHEN fresh.flags LIKE '%partly-quarantined%' THEN 1 ELSE 0 END) AS is_partial
    FROM fresh
    JOIN repeated ON fresh.line = repeated.line
    GROUP BY fresh.line
)
SELECT COUNT(*) AS records,
       COALESCE(SUM(records.is_flagged), 0) AS flagged
FROM records
JOIN repeated ON records.line = repeated.line
WHERE records.row_count = repeated.repeats AND records.is_partial = 0
ORDER BY records
