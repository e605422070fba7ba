-- Vehicles at risk: how many vehicles have exposure in each mileage band.
-- Row: one combination of the columns asked for.
-- Key: engine_family, then site and model_year where asked for.
-- Grain: vehicles fold; each counts once in a row, in every band it travelled in; counts of portions of them
--   (:from_vehicle, :below_vehicle) sum. Bounds and cuts as in exposure.
-- :source is pieces without a calendar filter and stretches with one. :distance and :exit are distance_m and exit_date to the
--   end of observation, to_sighting_m and sighting_date to the last sighting of any kind. A stretch is cut at the end of a day by
--   C(day) = floor(distance x days since entry / days of the stretch), 0 before entry and all of it from the exit on; what
--   lies within [first day, last day] is C(last day) - C(day before the first), so that neighbouring windows sum to the
--   stretch exactly. `:cutoff`, where given, carries every vehicle on to that day at its own pace.
WITH raw AS (
    SELECT vehicle, site, engine_family, model_year, entry_m, :distance AS distance_m, entry_date, :exit AS exit_date
    FROM :source
-- each cutoff
    UNION ALL
    SELECT
        vehicle, site, engine_family, model_year,
        from_m AS entry_m,
        CAST(FLOOR(CAST(pace_m AS DOUBLE) * (:cutoff - CAST(from_date AS BIGINT)) / pace_days) AS BIGINT) AS distance_m,
        from_date AS entry_date,
        CAST(:cutoff AS DATE) AS exit_date
    FROM carries
    WHERE CAST(from_date AS BIGINT) < :cutoff
-- end
),
wanted AS (
    SELECT
        vehicle, site, engine_family, model_year, entry_m, distance_m, entry_date, exit_date,
        CAST(entry_date AS BIGINT) AS entry_day,
        CAST(exit_date AS BIGINT) AS exit_day
    FROM raw
    WHERE distance_m > 0
-- each from_vehicle
        AND vehicle >= :from_vehicle
-- end
-- each below_vehicle
        AND vehicle < :below_vehicle
-- end
-- each families
        AND engine_family IN (:families)
-- end
-- each sites
        AND site IN (:sites)
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
),
cut AS (
    SELECT
        vehicle, site, engine_family, model_year, entry_m, entry_date, exit_date,
        CASE
            WHEN :before_first >= exit_day THEN distance_m
            WHEN :before_first <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:before_first - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS left_m,
        CASE
            WHEN :last_day >= exit_day THEN distance_m
            WHEN :last_day <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:last_day - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS right_m
    FROM wanted
),
parts AS (
    SELECT
        vehicle, site, engine_family, model_year,
        entry_m + left_m AS entry_m,
        entry_m + right_m AS exit_m,
        right_m - left_m AS distance_m,
        CASE WHEN CAST(entry_date AS BIGINT) < :before_first THEN CAST(:before_first AS DATE) ELSE entry_date END AS entry_date,
        CASE WHEN CAST(exit_date AS BIGINT) > :last_day THEN CAST(:last_day AS DATE) ELSE exit_date END AS exit_date
    FROM cut
    WHERE right_m > left_m
),
per_vehicle AS (
    SELECT
        vehicle,
        engine_family,
-- each by_site
        site,
-- end
-- each by_year
        model_year,
-- end
        COALESCE(SUM(CASE WHEN entry_m IS NULL THEN distance_m END), 0) AS unknown_m,
-- each upper
        COALESCE(SUM(CASE WHEN entry_m IS NOT NULL THEN LEAST(exit_m, :upper) - LEAST(entry_m, :upper) END), 0) AS below_:i,
-- end
        SUM(distance_m) AS distance_m
    FROM parts
    GROUP BY
-- each by_site
        site,
-- end
-- each by_year
        model_year,
-- end
        vehicle,
        engine_family
)
SELECT
    engine_family,
-- each by_site
    site,
-- end
-- each by_year
    model_year,
-- end
    COUNT(*) AS vehicles,
    SUM(CASE WHEN below_0 > 0 THEN 1 ELSE 0 END) AS band_0,
-- each next_band
    SUM(CASE WHEN below_:next_band > below_:i THEN 1 ELSE 0 END) AS band_:next_band,
-- end
    SUM(CASE WHEN unknown_m > 0 THEN 1 ELSE 0 END) AS unknown_band
FROM per_vehicle
GROUP BY
-- each by_site
    site,
-- end
-- each by_year
    model_year,
-- end
    engine_family
ORDER BY
-- each by_site
    site,
-- end
-- each by_year
    model_year,
-- end
    engine_family
