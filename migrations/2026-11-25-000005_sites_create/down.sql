DROP TABLE sites_site;
