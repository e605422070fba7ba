-- When and where a vehicle was seen, with or without trouble: visits and cases together.
-- Row: one vehicle on one day at one odometer (or at none).
-- Key: vehicle, date, odometer_m.
-- Grain: visits and openings of cases fold when all three agree. engine_replaced: 1 when a visit says so,
--   or a finding of a case has a repair that replaces the engine.
-- place: one number that orders by day, then odometer (below 100 million km); unknown where the odometer is.
-- before_...: of the reading before, by place; unknown at a vehicle's first and where the odometer is. Taken out of its place,
--   so that one window does for both.
-- plain: 1 when no failure brought the vehicle in, as far as records tell: it does not lie between the opening of a case
--   with a finding of any level and :after_case_days days after that case ended. A case without a finding is plain: what it
--   came with counts as no failure, and is independent of those that do (a Poisson process split at random).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH cases_here AS (
    SELECT vehicle, opened, ended, odometer_m, site, has_finding, replaces_engine
    FROM marked_cases
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
),
all_seen AS (
    SELECT
        vehicle,
        date,
        odometer_m,
        site,
        CASE WHEN engine_replaced THEN 1 ELSE 0 END AS engine_replaced
    FROM visits_now
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
    UNION ALL
    SELECT
        vehicle,
        opened AS date,
        odometer_m,
        site,
        replaces_engine AS engine_replaced
    FROM cases_here
),
seen AS (
    SELECT
        vehicle,
        date,
        odometer_m,
        MIN(site) AS site,
        CAST(MAX(engine_replaced) AS BIGINT) AS engine_replaced
    FROM all_seen
    GROUP BY vehicle, date, odometer_m
),
failing AS (
    SELECT
        vehicle,
        CAST(opened AS BIGINT) AS opened_day,
        CAST(ended AS BIGINT) + :after_case_days AS clear_day
    FROM cases_here
    WHERE has_finding = 1
),
brought_in AS (
    SELECT DISTINCT s.vehicle * 100000 + CAST(s.date AS BIGINT) AS vehicle_day, 1 AS by_failure
    FROM failing AS f
    JOIN seen AS s ON f.vehicle = s.vehicle
    WHERE CAST(s.date AS BIGINT) >= f.opened_day AND CAST(s.date AS BIGINT) < f.clear_day
),
placed AS (
    SELECT
        s.vehicle,
        s.date,
        s.odometer_m,
        CAST(s.date AS BIGINT) * 100000000000 + s.odometer_m AS place,
        s.site,
        s.engine_replaced,
        CAST(CASE WHEN b.by_failure = 1 THEN 0 ELSE 1 END AS BIGINT) AS plain,
        CASE WHEN s.odometer_m IS NULL THEN 0 ELSE 1 END AS is_known
    FROM seen AS s
    LEFT JOIN brought_in AS b ON s.vehicle * 100000 + CAST(s.date AS BIGINT) = b.vehicle_day
),
with_befores AS (
    SELECT
        vehicle, date, odometer_m, place, site, engine_replaced, plain,
        LAG(place) OVER (PARTITION BY vehicle * 2 + is_known ORDER BY place) AS before_place
    FROM placed
),
taken_out AS (
    SELECT
        vehicle, date, odometer_m, place, site, engine_replaced, plain,
        before_place % 100000000000 AS before_odometer_m,
        CAST(CAST(before_place - before_place % 100000000000 AS DOUBLE) / 100000000000 AS BIGINT) AS before_day
    FROM with_befores
)
SELECT
    vehicle,
    date,
    odometer_m,
    place,
    site,
    engine_replaced,
    plain,
    before_odometer_m,
    CAST(before_day AS DATE) AS before_date
FROM taken_out
