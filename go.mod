module example.org/restpoint

go 1.26

require gopkg.in/yaml.v3 v3.0.1
