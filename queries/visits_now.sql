-- Visits in their newest version.
-- Row: one visit as last exported.
-- Key: none (source and record, which are left out).
-- Grain: versions of a record fold into one. Newest: greatest export day (unknown days are oldest), then
--   greatest batch, then greatest line; the digest settles what is left, so that the choice never depends on row order.
-- vehicle: its number (vehicle_numbers).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH newest AS (
    SELECT DISTINCT ON (source, record)
        source, record, export_date, batch, line, digest,
        vehicle AS vehicle_key, site, date, odometer_m, engine_family, model_year, engine_replaced
    FROM visits
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
)
SELECT
    n.vehicle,
    v.site,
    v.date,
    v.odometer_m,
    v.engine_family,
    v.model_year,
    v.engine_replaced
FROM newest AS v
JOIN vehicle_numbers AS n ON v.vehicle_key = n.vehicle_key
