using System.CommandLine;
using SawEdge.Gateway.Commands;

var root = new RootCommand("SawEdge: reads band saws, compares actual with expected cut times, writes to InfluxDB. It never writes to a controller.")
{
    CheckCommand.Create(),
    SchemaCommand.Create(),
};
return await root.Parse(args).InvokeAsync();
