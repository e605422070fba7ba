-- Rows of visits of which the store has a newer version.
-- Row: one version of a visit that counts no more, by where its row stands.
-- Key: batch, line, digest.
-- Grain: of the versions of a record all but the newest. Newest: greatest export day (unknown days are oldest), then
--   greatest batch, then greatest line; the digest settles what is left, so that the choice never depends on row order.
-- Order: none, written to a file whose readers join it.
WITH repeated AS (
    SELECT source, record, export_date, batch, line, digest
    FROM repeated_versions
    WHERE target = 'visits'
),
newest AS (
    SELECT DISTINCT ON (source, record) source, record, export_date, batch, line, digest
    FROM repeated
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
),
standing AS (
    SELECT batch, line, digest, 1 AS is_newest
    FROM newest
)
SELECT DISTINCT r.batch, r.line, r.digest
FROM repeated AS r
LEFT JOIN standing AS s ON r.batch = s.batch AND r.line = s.line AND r.digest = s.digest
WHERE s.is_newest IS NULL
