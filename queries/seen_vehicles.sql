-- Vehicles with a visit or a case.
-- Row: one vehicle that no earlier slice of rows has.
-- Key: vehicle_key, its name in the batches.
-- Grain: visits and cases of the slice, superseded versions included, fold. Only those of vehicles not yet seen are folded: to fold
--   all of them takes room for each row.
-- Order: none, written to a file whose readers number it.
WITH named AS (
    SELECT vehicle
    FROM visits
    WHERE (batch > :first_batch OR (batch = :first_batch AND line >= :first_line))
        AND (batch < :end_batch OR (batch = :end_batch AND line < :end_line))
    UNION ALL
    SELECT vehicle
    FROM cases
    WHERE (batch > :first_batch OR (batch = :first_batch AND line >= :first_line))
        AND (batch < :end_batch OR (batch = :end_batch AND line < :end_line))
),
unseen AS (
    SELECT n.vehicle AS vehicle_key
    FROM named AS n
    LEFT JOIN (SELECT vehicle_key, 1 AS is_seen FROM seen_vehicles) AS s ON n.vehicle = s.vehicle_key
    WHERE s.is_seen IS NULL
)
SELECT DISTINCT vehicle_key
FROM unseen
