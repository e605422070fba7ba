-- Rows of visits and cases of which the store has a newer version.
-- Row: one version that counts no more, by where its row stands.
-- Key: target (its table), batch, line, digest.
-- Grain: of the versions of a record all but the newest. Newest: greatest export day (unknown days are oldest), then
--   greatest batch, then greatest line; the digest settles what is left, so that the choice never depends on row order.
--   Findings have a rule of their own (superseded_findings).
-- Order: none, written to a file whose readers join it.
WITH repeated AS (
    SELECT target, source, record, export_date, batch, line, digest
    FROM repeated_versions
    WHERE target <> 'findings'
),
newest AS (
    SELECT DISTINCT ON (target, source, record) target, source, record, export_date, batch, line, digest
    FROM repeated
    ORDER BY target, source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
),
standing AS (
    SELECT target, batch, line, digest, 1 AS is_newest
    FROM newest
)
SELECT DISTINCT r.target, r.batch, r.line, r.digest
FROM repeated AS r
LEFT JOIN standing AS s ON r.target = s.target AND r.batch = s.batch AND r.line = s.line AND r.digest = s.digest
WHERE s.is_newest IS NULL
