-- The known odometer readings of odd vehicles (odd_vehicles) with the rule that ignores each, if any.
-- Row: one reading.
-- Key: vehicle, place.
-- Grain: as sightings, without the unknown. ignored: 0 kept, 1 isolated, 2 too fast.
-- isolated: its neighbours are in order and it lies outside them (a typing error, tenths included, swapped digits).
--   Applied twice, the second time among the readings the first left: two errors in a row leave one isolated.
-- too fast: more than :metres_a_day from the reading before it (days between, plus one), and the reading after it does
--   not confirm it. A confirmed leap is a changed cluster and opens a segment later (readings).
-- The case of an ignored reading stays; its odometer is unknown.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH looked_at AS (
    SELECT s.vehicle, s.date, s.odometer_m, s.place, s.site, s.engine_replaced, s.plain
    FROM sightings AS s
    JOIN odd_vehicles AS o ON s.vehicle = o.vehicle
    WHERE s.odometer_m IS NOT NULL AND s.vehicle >= :first_vehicle AND s.vehicle < :end_vehicle
),
first_look AS (
    SELECT
        vehicle, date, odometer_m, place, site, engine_replaced, plain,
        LAG(odometer_m) OVER (PARTITION BY vehicle ORDER BY place) AS before_m,
        LEAD(odometer_m) OVER (PARTITION BY vehicle ORDER BY place) AS after_m
    FROM looked_at
),
first_pass AS (
    SELECT
        vehicle, date, odometer_m, place, site, engine_replaced, plain,
        CASE
            WHEN before_m <= after_m AND (odometer_m < before_m OR odometer_m > after_m) THEN 1
            ELSE 0
        END AS ignored
    FROM first_look
),
second_look AS (
    SELECT
        vehicle, date, odometer_m, place, site, engine_replaced, plain, ignored,
        LAG(odometer_m) OVER (PARTITION BY vehicle * 2 + ignored ORDER BY place) AS before_m,
        LEAD(odometer_m) OVER (PARTITION BY vehicle * 2 + ignored ORDER BY place) AS after_m
    FROM first_pass
),
second_pass AS (
    SELECT
        vehicle, date, odometer_m, place, site, engine_replaced, plain,
        CASE
            WHEN ignored = 1 THEN 1
            WHEN before_m <= after_m AND (odometer_m < before_m OR odometer_m > after_m) THEN 1
            ELSE 0
        END AS ignored
    FROM second_look
),
third_look AS (
    SELECT
        vehicle, date, odometer_m, place, site, engine_replaced, plain, ignored,
        LAG(odometer_m) OVER (PARTITION BY vehicle * 2 + ignored ORDER BY place) AS before_m,
        LEAD(odometer_m) OVER (PARTITION BY vehicle * 2 + ignored ORDER BY place) AS after_m,
        LAG(CAST(date AS BIGINT)) OVER (PARTITION BY vehicle * 2 + ignored ORDER BY place) AS before_day,
        LEAD(CAST(date AS BIGINT)) OVER (PARTITION BY vehicle * 2 + ignored ORDER BY place) AS after_day,
        CAST(date AS BIGINT) AS day
    FROM second_pass
)
SELECT
    vehicle, date, odometer_m, place, site, engine_replaced, plain,
    CAST(CASE
        WHEN ignored = 1 THEN 1
        WHEN odometer_m - before_m > :metres_a_day * (day - before_day + 1)
            AND NOT COALESCE(
                after_m >= odometer_m AND after_m - odometer_m <= :metres_a_day * (after_day - day + 1),
                FALSE
            ) THEN 2
        ELSE 0
    END AS BIGINT) AS ignored
FROM third_look
