-- Vehicles whose odometer or engine takes a closer look; all others keep every reading, in one segment, of one engine.
-- Row: one vehicle.
-- Key: vehicle.
-- Grain: readings fold. Odd: a reading below the one before it, or more than :metres_a_day from it (days between, plus one),
--   or an engine replaced.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
SELECT vehicle
FROM sightings
WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
    AND (
        odometer_m < before_odometer_m
        OR odometer_m - before_odometer_m > :metres_a_day * (CAST(date AS BIGINT) - CAST(before_date AS BIGINT) + 1)
    )
UNION
SELECT vehicle
FROM sightings
WHERE engine_replaced = 1 AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
