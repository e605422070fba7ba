-- What is known of each vehicle.
-- Row: one vehicle.
-- Key: vehicle.
-- Grain: all its visits and cases. engine_family and model_year: the latest known by day (ties: the greatest).
--   retired_on: day of the first case with a repair that retires the vehicle; nothing is observed after it.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH described AS (
    SELECT vehicle, date, engine_family, model_year
    FROM visits_now
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
    UNION ALL
    SELECT vehicle, opened AS date, engine_family, model_year
    FROM marked_cases
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
),
alike AS (
    SELECT vehicle, engine_family, model_year, MIN(date) AS first_seen, MAX(date) AS last_seen
    FROM described
    GROUP BY vehicle, engine_family, model_year
),
seen AS (
    SELECT vehicle, MIN(first_seen) AS first_seen, MAX(last_seen) AS last_seen
    FROM alike
    GROUP BY vehicle
),
known_family AS (
    SELECT DISTINCT ON (vehicle) vehicle, engine_family, last_seen
    FROM alike
    WHERE engine_family IS NOT NULL
    ORDER BY vehicle, last_seen DESC, engine_family DESC
),
known_year AS (
    SELECT DISTINCT ON (vehicle) vehicle, model_year, last_seen
    FROM alike
    WHERE model_year IS NOT NULL
    ORDER BY vehicle, last_seen DESC, model_year DESC
),
retiring AS (
    SELECT vehicle, MIN(opened) AS retired_on
    FROM marked_cases
    WHERE retires = 1 AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
    GROUP BY vehicle
)
SELECT
    s.vehicle,
    f.engine_family,
    y.model_year,
    s.first_seen,
    s.last_seen,
    r.retired_on
FROM seen AS s
LEFT JOIN known_family AS f ON s.vehicle = f.vehicle
LEFT JOIN known_year AS y ON s.vehicle = y.vehicle
LEFT JOIN retiring AS r ON s.vehicle = r.vehicle
