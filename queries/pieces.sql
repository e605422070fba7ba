-- The largest pieces of spans that belong to one site: what tallies without a calendar filter sum over.
-- Row: a span seen at one site only, else one of its stretches.
-- Key: none.
-- Grain: between stretches and spans: the same totals as stretches, in fewer rows. Columns as in spans.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH travelling AS (
    SELECT span
    FROM spans
    WHERE sites > 1 AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
)
SELECT
    vehicle, main_site AS site, engine_family, model_year,
    entry_m, distance_m, to_sighting_m, entry_date, exit_date, sighting_date
FROM spans
WHERE sites = 1 AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
UNION ALL
SELECT
    s.vehicle, s.site, s.engine_family, s.model_year,
    s.entry_m, s.distance_m, s.to_sighting_m, s.entry_date, s.exit_date, s.sighting_date
FROM stretches AS s
JOIN travelling AS t ON s.span = t.span
WHERE s.vehicle >= :first_vehicle AND s.vehicle < :end_vehicle
