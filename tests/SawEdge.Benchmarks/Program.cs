using SawEdge.Benchmarks.Cutting;
using SawEdge.Benchmarks.Modbus;

switch (args.FirstOrDefault())
{
    case "modbus":
        return await ModbusPolls.RunAsync();
    case "cutting":
        CuttingBenchmarks.Run(Console.Out);
        return 0;
    default:
        Console.Error.WriteLine("usage: dotnet run -c Release --project tests/SawEdge.Benchmarks -- modbus|cutting");
        return 2;
}
