// Many of these tests wait for brokers, devices and disks: with as many as there are cores, the cores would wait with them.
[assembly: CollectionBehavior(MaxParallelThreads = 3)]
