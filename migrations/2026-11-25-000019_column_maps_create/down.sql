DROP TABLE column_maps_column_map;
