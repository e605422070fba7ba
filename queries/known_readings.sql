-- Every known odometer reading with the one before it.
-- Row: one reading.
-- Key: vehicle, place.
-- Grain: as sightings, without the unknown; read by date, then odometer.
-- before_...: of the reading before, unknown at a vehicle's first.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
SELECT
    vehicle, date, odometer_m, place, site, engine_replaced, plain,
    LAG(odometer_m) OVER (PARTITION BY vehicle ORDER BY place) AS before_odometer_m,
    LAG(date) OVER (PARTITION BY vehicle ORDER BY place) AS before_date
FROM sightings
WHERE odometer_m IS NOT NULL AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
