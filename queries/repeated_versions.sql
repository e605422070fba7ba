-- Rows of which the store may hold several versions.
-- Row: one version of a visit, case or finding, by where its row stands.
-- Key: target (its table), batch, line, digest.
-- Grain: rows whose record is one of repeated_records.
-- Order: none, written to a file whose readers join it or count.
WITH keyed AS (
    SELECT 'cases' AS target, source, record, export_date, batch, line, digest, digest - digest % 268435456 AS key_digest
    FROM cases
    WHERE (batch > :first_batch OR (batch = :first_batch AND line >= :first_line))
        AND (batch < :end_batch OR (batch = :end_batch AND line < :end_line))
    UNION ALL
    SELECT 'findings' AS target, source, record, export_date, batch, line, digest, digest - digest % 268435456 AS key_digest
    FROM findings
    WHERE (batch > :first_batch OR (batch = :first_batch AND line >= :first_line))
        AND (batch < :end_batch OR (batch = :end_batch AND line < :end_line))
    UNION ALL
    SELECT 'visits' AS target, source, record, export_date, batch, line, digest, digest - digest % 268435456 AS key_digest
    FROM visits
    WHERE (batch > :first_batch OR (batch = :first_batch AND line >= :first_line))
        AND (batch < :end_batch OR (batch = :end_batch AND line < :end_line))
)
SELECT k.target, k.source, k.record, k.export_date, k.batch, k.line, k.digest
FROM keyed AS k
JOIN repeated_records AS r ON k.key_digest = r.key_digest
