-- Which rows are the newest version of the visits of which there may be several.
-- Row: one visit as last exported, by where its row stands.
-- Key: batch, line, digest.
-- Grain: versions of a record fold into one. Newest: greatest export day (unknown days are oldest), then
--   greatest batch, then greatest line; the digest settles what is left, so that the choice never depends on row order.
-- Order: none, written to a file whose readers join it.
WITH keyed AS (
    SELECT source, record, export_date, batch, line, digest, digest - digest % 4294967296 AS key_digest
    FROM visits
),
repeated AS (
    SELECT k.source, k.record, k.export_date, k.batch, k.line, k.digest
    FROM keyed AS k
    JOIN repeated_records AS r ON k.key_digest = r.key_digest
),
newest AS (
    SELECT DISTINCT ON (source, record) source, record, export_date, batch, line, digest
    FROM repeated
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
)
SELECT batch, line, digest
FROM newest
