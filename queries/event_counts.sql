-- Failure events that pass the filter, counted by the columns asked for.
-- Row: one combination of the columns asked for; none of them gives one row, or no row where there is no event.
-- Key: the columns of :dimension (family, site, model year, cylinder, band, cause; unknown values are keys of their own).
-- Grain: episodes fold; an event with several causes counts once, unless cause is a column asked for. band: number of the
--   mileage band [lower edge, upper edge) that holds the place on the engine's clock, -1 where that is unknown.
--   Its primary cause stands for it, or with :any_cause whichever of the causes asked for it has.
-- events count in the rate: under observation when they failed or, :with_later, seen before. after_last_visit: the others
--   of vehicles seen before. walk_ins: of vehicles never seen before. event_vehicles: vehicles of the events that count, where
--   asked for; counts of portions of the vehicles (:from_vehicle, :below_vehicle) sum.
WITH events AS (
    SELECT
-- each any_cause
        DISTINCT
-- end
        1 AS every,
        vehicle, cylinder, chain, engine_family, site, model_year, opened,
        under_observation
-- each with_later
        OR after_last_visit
-- end
        AS counted,
        under_observation OR after_last_visit AS seen_before,
-- each by_cause
        cause,
-- end
        CASE
            WHEN position_m IS NULL THEN -1
-- each upper
            WHEN position_m < :upper THEN :i
-- end
            ELSE :last_band
        END AS band
    FROM episodes
    WHERE chain > 0
-- each primary
        AND is_primary
-- end
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
-- each cylinders
        AND cylinder IN (:cylinders)
-- end
-- each from
        AND opened >= :from
-- end
-- each to
        AND opened <= :to
-- end
-- each causes
        AND cause IN (:causes)
-- end
)
SELECT
-- each dimension
    :dimension,
-- end
    SUM(CASE WHEN counted THEN 1 ELSE 0 END) AS events,
    SUM(CASE WHEN seen_before AND NOT counted THEN 1 ELSE 0 END) AS after_last_visit,
    SUM(CASE WHEN seen_before THEN 0 ELSE 1 END) AS walk_ins,
-- each with_vehicles
    COUNT(DISTINCT CASE WHEN counted THEN vehicle END) AS event_vehicles,
-- end
    MIN(opened) AS first_day,
    MAX(opened) AS last_day
FROM events
GROUP BY
-- each dimension
    :dimension,
-- end
    every
ORDER BY
-- each dimension
    :dimension,
-- end
    every
