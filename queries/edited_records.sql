-- Records of a new batch that change an older version: same source, table and key as a row of an older batch or of an
-- earlier line, other content. Records that are duplicates as a whole or partly in quarantine are not among them.
-- Row: the number of such records.
-- Key: none.
-- Grain: one row.
WITH fresh AS (
    SELECT line, digest, flags, CONCAT('visits/', record) AS keyed FROM new_visits
    UNION ALL
    SELECT line, digest, flags, CONCAT('cases/', record) AS keyed FROM new_cases
    UNION ALL
    SELECT line, digest, flags, CONCAT('findings/', record) AS keyed FROM new_findings
    UNION ALL
    SELECT line, digest, flags, CONCAT('tests/', record) AS keyed FROM new_tests
),
older AS (
    SELECT CONCAT('visits/', record) AS keyed, digest, 0 AS line
    FROM old_visits WHERE source = :source AND batch <> :superseded
    UNION ALL
    SELECT CONCAT('cases/', record) AS keyed, digest, 0 AS line
    FROM old_cases WHERE source = :source AND batch <> :superseded
    UNION ALL
    SELECT CONCAT('findings/', record) AS keyed, digest, 0 AS line
    FROM old_findings WHERE source = :source AND batch <> :superseded
    UNION ALL
    SELECT CONCAT('tests/', record) AS keyed, digest, 0 AS line
    FROM old_tests WHERE source = :source AND batch <> :superseded
    UNION ALL
    SELECT keyed, digest, line FROM fresh
),
partial AS (
    SELECT DISTINCT line FROM fresh WHERE flags LIKE '%partly-quarantined%'
),
changed AS (
    SELECT fresh.line, fresh.digest, fresh.keyed
    FROM fresh
    JOIN older ON fresh.keyed = older.keyed
    WHERE older.line < fresh.line AND older.digest <> fresh.digest
),
same AS (
    SELECT fresh.line, fresh.digest, fresh.keyed
    FROM fresh
    JOIN older ON fresh.keyed = older.keyed
    WHERE older.line < fresh.line AND older.digest = fresh.digest
),
edits AS (
    SELECT changed.line
    FROM changed
    LEFT JOIN same ON changed.line = same.line AND changed.digest = same.digest AND changed.keyed = same.keyed
    WHERE same.line IS NULL
)
SELECT COUNT(DISTINCT edits.line) AS records
FROM edits
LEFT JOIN partial ON edits.line = partial.line
WHERE partial.line IS NULL
ORDER BY records
