-- Which cylinder failed, one failure a vehicle, so that no vehicle speaks twice.
-- Row: one cylinder at one site.
-- Key: cylinder (unknown is a row of its own), site.
-- Grain: failure events fold. first_of_vehicle counts the first failure of each vehicle: the earliest day, then a known
--   cylinder, then the highest confirmation (least doubt), then the first found. repeats are its later ones, left out of the counts.
WITH taken AS (
    SELECT
        vehicle, COALESCE(cylinder, -1) AS cylinder_key, chain, site, opened,
        MIN(-confirmation) AS doubt,
        MIN(place) AS place
    FROM episodes
    WHERE chain > 0
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
    GROUP BY vehicle, COALESCE(cylinder, -1), chain, site, opened
),
ranked AS (
    SELECT
        vehicle, cylinder_key, chain, site, opened, doubt, place,
        CASE WHEN cylinder_key < 0 THEN 1 ELSE 0 END AS unknown_cylinder
    FROM taken
),
in_order AS (
    SELECT
        vehicle, cylinder_key, site, opened,
        ROW_NUMBER() OVER (
            PARTITION BY vehicle
            ORDER BY opened, unknown_cylinder, doubt, place, cylinder_key, chain
        ) AS turn
    FROM ranked
)
SELECT
    CASE WHEN cylinder_key >= 0 THEN cylinder_key END AS cylinder,
    site,
    SUM(CASE WHEN turn = 1 THEN 1 ELSE 0 END) AS first_of_vehicle,
    SUM(CASE WHEN turn > 1 THEN 1 ELSE 0 END) AS repeats,
    MIN(opened) AS first_day,
    MAX(opened) AS last_day
FROM in_order
GROUP BY CASE WHEN cylinder_key >= 0 THEN cylinder_key END, site
ORDER BY cylinder, site
