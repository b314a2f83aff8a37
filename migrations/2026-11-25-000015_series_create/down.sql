DROP TABLE series_series;
