-- Visits in their newest version.
-- Row: one visit as last exported.
-- Key: source, record.
-- Grain: versions of a record fold into one. Newest: greatest export day (unknown days are oldest), then
--   greatest batch, then greatest line; the digest settles what is left, so that the choice never depends on row order.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH newest AS (
    SELECT DISTINCT ON (source, record) *
    FROM visits
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
)
SELECT
    source,
    record,
    vehicle,
    site,
    date,
    odometer_m,
    engine_family,
    model_year,
    engine_replaced
FROM newest
