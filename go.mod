module example.org/restpoint

go 1.26
