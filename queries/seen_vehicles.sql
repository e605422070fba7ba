-- Vehicles with a visit.
-- Row: one vehicle that no earlier slice of visits has.
-- Key: vehicle_key, its name in the batches.
-- Grain: visits of the slice, superseded versions included, fold. Only those of vehicles not yet seen are folded: to fold all of
--   them takes room for each visit.
-- Order: none, written to a file whose readers number it.
WITH here AS (
    SELECT v.vehicle
    FROM visits AS v
    LEFT JOIN (SELECT vehicle_key, 1 AS is_seen FROM seen_vehicles) AS s ON v.vehicle = s.vehicle_key
    WHERE s.is_seen IS NULL
        AND (v.batch > :first_batch OR (v.batch = :first_batch AND v.line >= :first_line))
        AND (v.batch < :end_batch OR (v.batch = :end_batch AND v.line < :end_line))
)
SELECT DISTINCT vehicle AS vehicle_key
FROM here
