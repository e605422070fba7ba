-- A whole number for each vehicle, by which all later statements join, sort and are cut into slices: much cheaper than text.
-- Row: one vehicle of any row of the store, superseded versions included.
-- Key: vehicle (from 1, in the order of the names); vehicle_key is its name in the batches.
-- Grain: as seen_vehicles.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
SELECT
    vehicle_key,
    CAST(ROW_NUMBER() OVER (ORDER BY vehicle_key) AS BIGINT) AS vehicle
FROM seen_vehicles
