-- What is known of each vehicle.
-- Row: one vehicle.
-- Key: vehicle.
-- Grain: all its visits and cases. engine_family and model_year: the latest known by day (ties: the greatest).
--   retired_on: day of the first case with a repair that retires the vehicle; nothing is observed after it.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH described AS (
    SELECT vehicle, date, engine_family, model_year FROM visits_now
    UNION ALL
    SELECT vehicle, opened AS date, engine_family, model_year FROM cases_now
),
seen AS (
    SELECT vehicle, MIN(date) AS first_seen, MAX(date) AS last_seen
    FROM described
    GROUP BY vehicle
),
known_family AS (
    SELECT DISTINCT ON (vehicle) vehicle, engine_family, date
    FROM described
    WHERE engine_family IS NOT NULL
    ORDER BY vehicle, date DESC, engine_family DESC
),
known_year AS (
    SELECT DISTINCT ON (vehicle) vehicle, model_year, date
    FROM described
    WHERE model_year IS NOT NULL
    ORDER BY vehicle, date DESC, model_year DESC
),
retiring AS (
    SELECT c.vehicle, MIN(c.opened) AS retired_on
    FROM findings_now AS f
    JOIN cases_now AS c ON f.source = c.source AND f.case_id = c.case_id
    WHERE f.repair IN (:retiring_repairs)
    GROUP BY c.vehicle
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
