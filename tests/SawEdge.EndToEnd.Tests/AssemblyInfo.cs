// These tests wait for saws in real time, not for the processor.
[assembly: CollectionBehavior(MaxParallelThreads = 4)]
