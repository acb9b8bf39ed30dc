using SawEdge.Benchmarks.Modbus;

switch (args.FirstOrDefault())
{
    case "modbus":
        return await ModbusPolls.RunAsync();
    default:
        Console.Error.WriteLine("usage: dotnet run -c Release --project tests/SawEdge.Benchmarks -- modbus");
        return 2;
}
