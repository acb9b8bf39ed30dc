using SawEdge.Benchmarks.Cutting;
using SawEdge.Benchmarks.Modbus;
using SawEdge.Benchmarks.Recordings;

switch (args.FirstOrDefault())
{
    case "modbus":
        return await ModbusPolls.RunAsync();
    case "cutting":
        CuttingBenchmarks.Run(Console.Out);
        return 0;
    case "recordings":
        return await RecordingBenchmark.RunAsync(Console.Out);
    default:
        Console.Error.WriteLine("usage: dotnet run -c Release --project tests/SawEdge.Benchmarks -- modbus|cutting|recordings");
        return 2;
}
